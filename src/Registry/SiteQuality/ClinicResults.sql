-- What places where nobody is born reported of tests and evaluations made from @from to @to, with when word of each first came: of @site, or of
-- all. By the infants each sees. {visible} is the visibility rule on t.infant_id; what is made of it stands last.
with clinics as (
  select k.id from sites k where (@site::uuid is null or k.id = @site) and k.kind not in ('hospital', 'birth_center', 'midwife')
), told as (
  select t.id as screening_id, t.infant_id, t.site_id, t.performed_at, t.ear, t.method, t.outcome, t.reason, t.instrument, t.probe, t.screener,
         (select min(coalesce(b.received_at, e.recorded_at)) from screenings e left join submissions b on b.id = e.submission_id
           where e.infant_id = t.infant_id and e.site_id = t.site_id and e.ear = t.ear and e.performed_at = t.performed_at) as received
    from clinics k
    join infant_sites v on v.site_id = k.id
    join screenings t on t.infant_id = v.infant_id and t.site_id = k.id
   where t.performed_at >= @from and t.performed_at < @to::date + 1 and t.outcome <> 'not_performed'
     and t.recorded_at <= @known and (t.superseded_at is null or t.superseded_at > @known) and {visible}
  union all
  select t.id, t.infant_id, t.site_id, t.evaluated_on, null, null, null, 'none', null, null, null,
         (select min(coalesce(b.received_at, e.recorded_at)) from diagnoses e left join submissions b on b.id = e.submission_id
           where e.infant_id = t.infant_id and e.site_id = t.site_id and e.evaluated_on = t.evaluated_on)
    from clinics k
    join infant_sites v on v.site_id = k.id
    join diagnoses t on t.infant_id = v.infant_id and t.site_id = k.id
   where t.evaluated_on between @from and @to
     and t.recorded_at <= @known and (t.superseded_at is null or t.superseded_at > @known) and {visible}
), results as (
  select t.*, t.received at time zone @zone as received_at, null::float8 as age_hours from told t
)
{answer};
