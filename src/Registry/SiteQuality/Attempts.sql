-- Attempts of the birth admission over days of test, as known at @known. The unit is one of the expressions in ScreensAsked.cs, never
-- user input. An attempt is one test of one ear with an outcome; "not performed" is none. The birth admission is decided as in
-- Registry.Rules.Screening.DeriveStage (a test compares the two). Used by CountScreens.sql, ListTests.sql,
-- ComparedTests.sql and MeasureDelays.sql.
select {unit} as unit, s.id, s.infant_id, s.ear, s.method, s.outcome, s.reason, s.performed_at, s.instrument, s.probe, s.screener,
       extract(epoch from s.performed_at - (b.born_on + b.born_at)) / 3600.0 as age_hours,
       extract(epoch from s.performed_at - (b.born_on + b.born_at)) / 3600.0
         < case when s.method in ('aabr', 'abr') then @early_abr else @early_oae end as early
  from screenings s
  join births b on b.infant_id = s.infant_id and b.recorded_at <= @known and (b.superseded_at is null or b.superseded_at > @known)
 where s.recorded_at <= @known and (s.superseded_at is null or s.superseded_at > @known)
   and s.outcome <> 'not_performed'
   and s.performed_at >= @from and s.performed_at < @to::date + 1
   and (@site::uuid is null or s.site_id = @site)
   and case
         when @trust_stage and s.stage <> 'unstated' then s.stage = 'birth_admission'
         when coalesce(b.discharged_on, b.nicu_discharged_on) is not null then s.performed_at::date <= coalesce(b.discharged_on, b.nicu_discharged_on)
         when b.nicu_admitted_on is not null then true
         when b.place = 'home' then false
         when b.born_at is not null then s.performed_at - (b.born_on + b.born_at) <= make_interval(hours => @admission_hours)
         else (s.performed_at::date - b.born_on) * 24 <= @admission_hours
       end
