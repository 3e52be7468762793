-- Sessions that are alike, counted: as known now. An infant's first session is its counted tests that belong to it, by days of the first
-- test; equipment, screener, hour, method and whether it was early are those of its first attempt. Its rescreen, where the first session
-- referred, begins with the first attempt after it that the session does not take: at another site, or more than @hours after its first test
-- and @minutes after its last. With it go those of that site within @hours.
with sessions as (
  select t.infant_id, t.site_id, max(t.instrument) filter (where t.is_first) as instrument,
         max(t.probe) filter (where t.is_first) as probe, max(t.screener) filter (where t.is_first) as screener,
         min(t.performed_at) as began, max(t.performed_at) as ended, max(t.method) filter (where t.is_first) as method,
         max(t.age_hours) filter (where t.is_first) as age_hours, bool_or(t.is_first and t.in_nicu) as in_nicu,
         bool_or(t.early) filter (where t.is_first) as early,
         max(t.gestation_weeks) as weeks, bool_or(t.is_first_valid) as valid,
         bool_or(t.is_first_valid and t.outcome = 'refer') as referred,
         bool_or(t.outcome = 'no_valid_result' and t.reason = 'no_seal') as no_seal,
         bool_or(t.outcome = 'no_valid_result' and t.reason = 'noise') as noise,
         bool_or(t.outcome = 'no_valid_result' and t.reason not in ('no_seal', 'noise')) as other_reason
    from counted_tests t
   where t.known_until is null and t.in_first_session and t.performed_at >= @from
   group by t.infant_id, t.site_id
), rescreens as (
  select f.site_id, f.instrument, f.probe, f.screener, f.performed_at as began, f.method,
         x.age_hours + extract(epoch from f.performed_at - x.began) / 3600 as age_hours, x.in_nicu, x.weeks, g.valid, g.referred
    from sessions x
   cross join lateral (
     select s.* from screenings s
      where s.infant_id = x.infant_id and s.superseded_at is null and s.outcome <> 'not_performed'
        and s.performed_at > x.ended
        and (s.site_id is distinct from x.site_id or s.performed_at > x.began + make_interval(hours => @hours)
          and s.performed_at > x.ended + make_interval(mins => @minutes))
      order by s.performed_at, s.id limit 1) f
   cross join lateral (
     select bool_or(v.is_first_valid) as valid, bool_or(v.is_first_valid and v.outcome = 'refer') as referred
       from (select s.outcome, s.outcome in ('pass', 'refer') and row_number() over (
                      partition by s.ear, s.outcome in ('pass', 'refer') order by s.performed_at, s.id) = 1 as is_first_valid
               from screenings s
              where s.infant_id = x.infant_id and s.superseded_at is null and s.site_id = f.site_id
                and s.performed_at between f.performed_at and f.performed_at + make_interval(hours => @hours)) v) g
   where x.referred
), both_kinds as (
  select false as again, site_id, instrument, probe, screener, began, method, age_hours, in_nicu, weeks, valid, referred, no_seal, noise,
         other_reason, early
    from sessions
   union all
  select true, site_id, instrument, probe, screener, began, method, age_hours, in_nicu, weeks, valid, referred, false, false, false,
         null
    from rescreens
)
select s.code, x.instrument, x.probe, x.screener, x.began::date, extract(hour from x.began)::int, x.method,
       case when x.age_hours is null then 0 else 1 + width_bucket(x.age_hours, array[6, 12, 18, 24, 30, 36, 42, 48, 72]::float8[]) end,
       x.in_nicu, case when x.weeks is null then 0 when x.weeks < 34 then 1 when x.weeks < 37 then 2 else 3 end,
       count(*)::int, count(*) filter (where x.valid)::int, count(*) filter (where x.referred)::int,
       count(*) filter (where x.no_seal)::int, count(*) filter (where x.noise)::int, count(*) filter (where x.other_reason)::int, x.again,
       x.early
  from both_kinds x join sites s on s.id = x.site_id
 group by 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, x.again, x.early
