-- Birth-admission screening counted per unit; the placeholder is Attempts.sql.
with attempts as (
{attempts}
), ears as (
  select distinct on (unit, infant_id, ear) unit, infant_id, outcome
    from attempts where outcome <> 'no_valid_result' order by unit, infant_id, ear, performed_at desc
), infants as (
  select unit, infant_id, bool_or(outcome = 'refer') as referred, count(*) = 2 as both_ears from ears group by unit, infant_id
), concluded as (
  select unit, count(*) filter (where referred or both_ears) as concluded, count(*) filter (where referred) as referred from infants group by unit
), firsts as (
  select distinct on (unit, infant_id) unit, infant_id, age_hours, early from attempts order by unit, infant_id, performed_at
), ages as (
  select unit, count(*) as infants, percentile_cont(0.5) within group (order by age_hours) as median_age,
         count(*) filter (where age_hours is not null) as with_age, count(*) filter (where early) as early
    from firsts group by unit
)
select a.unit,
       count(*)::int as attempts,
       count(*) filter (where a.outcome = 'no_valid_result')::int as invalid,
       count(*) filter (where a.outcome = 'no_valid_result' and a.reason = 'no_seal')::int as no_seal,
       count(*) filter (where a.outcome = 'no_valid_result' and a.reason = 'noise')::int as noise,
       count(*) filter (where a.outcome = 'refer')::int as ear_refers,
       coalesce(max(c.concluded), 0)::int as infants_concluded,
       coalesce(max(c.referred), 0)::int as infants_referred,
       max(g.infants)::int as infants,
       max(g.median_age)::float8 as median_age,
       max(g.with_age)::int as with_age,
       max(g.early)::int as early
  from attempts a left join concluded c on c.unit = a.unit join ages g on g.unit = a.unit
 group by a.unit order by a.unit;
