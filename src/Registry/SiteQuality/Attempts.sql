-- Attempts of the birth admission over days of test, as known at @known. The unit is one of the expressions in ScreensAsked.cs, never
-- user input. An attempt is one test of one ear with an outcome; "not performed" is none. The birth admission is decided as in
-- Registry.Rules (BirthStay; a test compares the two), each test by itself: a transfer continues it, and a discharge stated for the day of
-- the transfer is not the one home. Used by CountScreens.sql, ListTests.sql,
-- ComparedTests.sql and MeasureDelays.sql.
select {unit} as unit, s.id, s.infant_id, s.ear, s.method, s.outcome, s.reason, s.performed_at, s.instrument, s.probe, s.screener,
       extract(epoch from (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone)) / 3600.0 as age_hours,
       extract(epoch from (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone)) / 3600.0
         < case when s.method in ('aabr', 'abr') then @early_abr else @early_oae end as early
  from screenings s
  join births b on b.infant_id = s.infant_id and b.recorded_at <= @known and (b.superseded_at is null or b.superseded_at > @known)
  left join lateral (
    select max(t.transferred_on) as sent_on
      from transfers t
     where t.infant_id = b.infant_id and t.recorded_at <= @known and (t.superseded_at is null or t.superseded_at > @known)
       and t.transferred_on >= b.born_on
       and case when b.discharged_on is not null then t.transferred_on <= b.discharged_on
                else coalesce(b.nicu_admitted_on <= t.transferred_on and not coalesce(b.nicu_discharged_on < t.transferred_on, false), false)
                  or b.place <> 'home' and (t.transferred_on - b.born_on) * 24 <= @admission_hours end
  ) sent on true
  cross join lateral (
    select coalesce(case when b.discharged_on is distinct from sent.sent_on then b.discharged_on end,
                    case when not coalesce(b.nicu_discharged_on <= sent.sent_on, false) then b.nicu_discharged_on end) as ended_on
  ) stay
 where s.recorded_at <= @known and (s.superseded_at is null or s.superseded_at > @known)
   and s.outcome <> 'not_performed'
   and s.performed_at >= @from and s.performed_at < @to::date + 1
   and (@site::uuid is null or s.site_id = @site)
   and case
         when @trust_stage and s.stage <> 'unstated' then s.stage = 'birth_admission'
         when stay.ended_on is not null then s.performed_at::date <= stay.ended_on
         when coalesce(b.nicu_admitted_on, sent.sent_on) is not null
           then s.performed_at::date <= coalesce(b.nicu_admitted_on, sent.sent_on) + @inpatient_days
         when b.place = 'home' then false
         when b.born_at is not null then (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone) <= make_interval(hours => @admission_hours)
         else (s.performed_at::date - b.born_on) * 24 <= @admission_hours
       end
