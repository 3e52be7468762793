-- Every version of the births of @infants, oldest first: what of it may go with being lost. A telephone number is told from another by its key.
select b.infant_id, b.recorded_at, s.code, s.county, b.county, b.language, b.insurance,
       coalesce(b.contact_phone_key, case when b.contact_phone is not null then b.id::text end), b.race_ethnicity
  from births b join sites s on s.id = b.site_id
 where b.infant_id = any(@infants)
 order by b.recorded_at, b.id;

-- What was told of their families, also what was closed since,
select f.infant_id, f.recorded_at, f.superseded_at, f.stated_on, f.kind, f.person_name,
       coalesce(f.contact_phone_key, case when f.contact_phone is not null then f.id::text end),
       coalesce(f.other_phone_key, case when f.other_phone is not null then f.id::text || '+' end),
       f.language, f.interpreter_needed, f.holds_custody, f.may_be_told
  from family_contacts f
 where f.infant_id = any(@infants);

-- and of who pays.
select c.infant_id, c.recorded_at, c.superseded_at, c.stated_on, c.insurance
  from care c
 where c.infant_id = any(@infants) and c.insurance is not null;
