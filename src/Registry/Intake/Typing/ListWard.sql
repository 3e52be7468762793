-- The infants a site still has to screen: born there lately, and not discharged without a pass of both ears, or discharged without a complete
-- screen. One range of an index, whatever the site had before.
select s.infant_id, s.born_on, b.born_at, b.infant_given_name, b.infant_family_name, b.mother_given_name, b.mother_family_name, number.value,
       s.screening, b.discharged_on is not null
  from infant_status s
  join births b on b.infant_id = s.infant_id and b.superseded_at is null
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = s.infant_id and i.site_id = @site and i.kind = 'record_number' and i.superseded_at is null
     order by i.recorded_at, i.id limit 1) number on true
 where s.birth_site_id = @site and s.born_on >= @from and s.screened_state <> 'excluded' and s.screening <> 'passed'
   and (b.discharged_on is null or s.screening in ('not_screened', 'incomplete'))
   and {visible}
 order by b.discharged_on is not null, s.born_on, b.born_at nulls last, s.infant_id
 limit @most;
