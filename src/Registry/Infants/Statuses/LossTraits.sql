-- Every version of the births of @infants, oldest first: what of it may go with being lost.
select b.infant_id, b.recorded_at, s.code, s.county, b.county, b.language, b.insurance, b.contact_phone is not null, b.race_ethnicity
  from births b join sites s on s.id = b.site_id
 where b.infant_id = any(@infants)
 order by b.recorded_at, b.id;
