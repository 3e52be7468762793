-- Attempts of the birth admission with the moment word of each first arrived; the placeholder is Attempts.sql, its unit the site. A correction
-- states a test anew and comes later: what counts is the first time the site stated this ear at this time.
with attempts as (
{attempts}
), first as (
  select s.site_id, s.infant_id, s.ear, s.performed_at, min(coalesce(sub.received_at, s.recorded_at)) as received_at
    from screenings s left join submissions sub on sub.id = s.submission_id
   where s.recorded_at <= @known and s.performed_at >= @from and s.performed_at < @to::date + 1 and (@site::uuid is null or s.site_id = @site)
   group by 1, 2, 3, 4
)
select a.id, f.site_id, coalesce(a.instrument, ''), a.performed_at, f.received_at at time zone @zone
  from attempts a
  join first f on f.site_id = a.unit::uuid and f.infant_id = a.infant_id and f.ear = a.ear and f.performed_at = a.performed_at;
