-- The infants a site still has to screen: born or transferred there, and not discharged without a pass of both ears, or discharged of late
-- (@from) without a complete screen. Who lies here is who was not discharged home, as long as a stay without its end is believed
-- (@lying_from); a discharge on the day of the transfer was the sender's, and who was transferred away lies there. Two ranges of an index,
-- whatever the site had before.
with of_site as (
  select infant_id, born_on, birth_site_id, responsible_site_id, screening, screened_state
    from infant_status where birth_site_id = @site and born_on >= @lying_from
  union all
  select infant_id, born_on, birth_site_id, responsible_site_id, screening, screened_state
    from infant_status where responsible_site_id = @site and responsible_site_id <> birth_site_id and born_on >= @lying_from
)
select s.infant_id, s.born_on, b.born_at, b.infant_given_name, b.infant_family_name, b.mother_given_name, b.mother_family_name, number.value,
       s.screening, home.discharged
  from of_site s
  join births b on b.infant_id = s.infant_id and b.superseded_at is null
 cross join lateral (
    select b.discharged_on is not null and not (s.responsible_site_id <> s.birth_site_id and exists (
             select from transfers t
              where t.infant_id = s.infant_id and t.superseded_at is null and t.transferred_on = b.discharged_on)) as discharged) home
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = s.infant_id and i.site_id = @site and i.kind = 'record_number' and i.superseded_at is null
     order by i.recorded_at, i.id limit 1) number on true
 where s.screened_state <> 'excluded' and s.screening <> 'passed'
   and case when home.discharged then s.born_on >= @from and s.screening in ('not_screened', 'incomplete')
            else s.responsible_site_id = @site end
   and {visible}
 order by home.discharged, s.born_on, b.born_at nulls last, s.infant_id
 limit @most;
