-- The tests behind rescreens, as ReadCells.sql counts them: where an infant's first session referred, its rescreen begins with
-- the first attempt after it that the session does not take, wherever that was, with those of that site within @hours; of each ear the first
-- valid result. {visible} is the visibility rule on t.infant_id, {unit} and {part} the group and part of the rescreen's first
-- test; what is made of them stands last (TestsSql). A rescreen belongs to no admission, so it is read from the facts as known at @known; it is
-- early for nothing.
with here as materialized (
  select distinct s.infant_id from screenings s
   where s.site_id = @site and s.performed_at >= @from and (@by_birth or s.performed_at < @to::date + 1) and s.outcome <> 'not_performed'
     and s.recorded_at <= @known and (s.superseded_at is null or s.superseded_at > @known)
), first_sessions as (
  select t.infant_id, t.site_id, min(t.born_on) as born_on, min(t.performed_at) as began, max(t.performed_at) as ended,
         max(t.age_hours) filter (where t.is_first) as age_hours
    from here join counted_tests t on t.infant_id = here.infant_id
   where t.in_first_session
     and (@as_of::date is null and t.known_until is null
       or t.known_from <= @as_of and (t.known_until is null or t.known_until > @as_of))
     and {visible}
   group by t.infant_id, t.site_id
  having bool_or(t.is_first_valid and t.outcome = 'refer')
), rescreens as (
  select x.infant_id, x.born_on, f.instrument, f.probe, f.screener, f.method, f.performed_at, false as early,
         x.age_hours + extract(epoch from f.performed_at - x.began) / 3600 as age_hours
    from first_sessions x
   cross join lateral (
     select s.* from screenings s
      where s.infant_id = x.infant_id and s.outcome <> 'not_performed'
        and s.recorded_at <= @known and (s.superseded_at is null or s.superseded_at > @known)
        and s.performed_at > x.ended
        and (s.site_id is distinct from x.site_id or s.performed_at > x.began + make_interval(hours => @hours)
          and s.performed_at > x.ended + make_interval(mins => @minutes))
      order by s.performed_at, s.id limit 1) f
   where f.site_id = @site and case when @by_birth then x.born_on else f.performed_at::date end between @from and @to
), valid as (
  select s.id as screening_id, s.infant_id, s.performed_at, s.ear, s.method, s.outcome, s.reason, s.instrument, s.probe, s.screener,
         t.age_hours + extract(epoch from s.performed_at - t.performed_at) / 3600 as age_hours,
         s.recorded_at at time zone @zone as received_at, t.performed_at::date as day,
         row_number() over (partition by s.infant_id, s.ear order by s.performed_at, s.id) as place
    from rescreens t
    join screenings s on s.infant_id = t.infant_id and s.site_id = @site and s.outcome in ('pass', 'refer')
     and s.recorded_at <= @known and (s.superseded_at is null or s.superseded_at > @known)
     and s.performed_at between t.performed_at and t.performed_at + make_interval(hours => @hours)
   where (@unit::text is null or {unit} = @unit) and {part}
), shown as (
  select * from valid where place = 1 and (@show = 'rescreens' or outcome = 'refer')
)
{answer};
