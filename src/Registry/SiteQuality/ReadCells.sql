-- First sessions that are alike, counted: as known now, of days of the first test. A session is an infant's counted tests that belong to its
-- first one; equipment, screener, hour and method are those of its first attempt.
with sessions as (
  select t.site_id, max(t.instrument) filter (where t.is_first) as instrument, max(t.probe) filter (where t.is_first) as probe,
         max(t.screener) filter (where t.is_first) as screener, min(t.performed_at) as began,
         max(t.method) filter (where t.is_first) as method, max(t.age_hours) filter (where t.is_first) as age_hours,
         bool_or(t.is_first and t.in_nicu) as in_nicu, max(t.gestation_weeks) as weeks, bool_or(t.is_first_valid) as valid,
         bool_or(t.is_first_valid and t.outcome = 'refer') as referred,
         bool_or(t.outcome = 'no_valid_result' and t.reason = 'no_seal') as no_seal,
         bool_or(t.outcome = 'no_valid_result' and t.reason = 'noise') as noise,
         bool_or(t.outcome = 'no_valid_result' and t.reason not in ('no_seal', 'noise')) as other_reason
    from counted_tests t
   where t.known_until is null and t.in_first_session and t.performed_at >= @from
   group by t.infant_id, t.site_id
)
select s.code, x.instrument, x.probe, x.screener, x.began::date, extract(hour from x.began)::int, x.method,
       case when x.age_hours is null then 0 else 1 + width_bucket(x.age_hours, array[6, 12, 18, 24, 30, 36, 42, 48, 72]::float8[]) end,
       x.in_nicu, case when x.weeks is null then 0 when x.weeks < 34 then 1 when x.weeks < 37 then 2 else 3 end,
       count(*)::int, count(*) filter (where x.valid)::int, count(*) filter (where x.referred)::int,
       count(*) filter (where x.no_seal)::int, count(*) filter (where x.noise)::int, count(*) filter (where x.other_reason)::int
  from sessions x join sites s on s.id = x.site_id
 group by 1, 2, 3, 4, 5, 6, 7, 8, 9, 10
