-- Infants whose next step is due at the site, or at a closed one that it continues, and whose result is missing, the latest to pass first: some
-- by name, and how many of @most_counted. Names and numbers are looked up of those shown only; the placeholder is ListInfants.From, never user
-- input. Site by site, so that the index has them in order and no more are read than are counted.
-- Planned each time, by the days asked for: a plan for any days would read all births of the region's year.
select set_config('plan_cache_mode', 'force_custom_plan', true);
with missing as materialized (
  select m.*
    from (select h.site_id from site_heirs h where h.heir_id = @of_site) own
   cross join lateral (
     select s.infant_id, s.next_step, s.next_due_on, s.born_on, s.birth_site_id
     {from} and s.responsible_site_id = own.site_id
      order by s.next_due_on desc, s.infant_id limit @most_counted) m
   order by m.next_due_on desc, m.infant_id limit @most_counted),
shown as (select * from missing order by next_due_on desc, infant_id limit @most)
select s.infant_id, s.next_step, s.next_due_on, s.born_on, b.infant_given_name, b.infant_family_name, b.mother_given_name,
       b.mother_family_name, number.value, (select count(*) from missing)::int
  from shown s
  left join births b on b.infant_id = s.infant_id and b.superseded_at is null
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = s.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = s.birth_site_id) desc, i.recorded_at, i.id limit 1) number on true
 order by s.next_due_on desc, s.infant_id;
