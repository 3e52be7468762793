-- What is counted of each site, instrument (or days to the first word of a test: @by_arrival) and day of test, from the facts as they were known
-- at @known: written anew in SQL, beside the counting of the program, which asks the rules. An attempt is one test of one ear with an outcome; "not performed" is none. A transfer
-- continues the birth admission, and a discharge stated for the day of the transfer is not the one home.
with attempts as (
select s.id, s.infant_id, s.site_id, s.ear, s.outcome, s.reason, s.performed_at,
       case when not @by_arrival then coalesce(s.instrument, '') else
         (select to_char(greatest(0, (min(coalesce(u.received_at, o.recorded_at)) at time zone @zone)::date - s.performed_at::date), 'FM000')
            from screenings o left join submissions u on u.id = o.submission_id
           where o.infant_id = s.infant_id and o.site_id = s.site_id and o.ear = s.ear and o.performed_at = s.performed_at
             and o.recorded_at <= @known) end as unit,
       extract(epoch from (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone)) / 3600.0 as age_hours,
       extract(epoch from (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone)) / 3600.0
         < case when s.method in ('aabr', 'abr') then @early_abr else @early_oae end as early,
       -- At one moment the refer comes last, and the order does not depend on how the tests arrived.
       row_number() over (partition by s.infant_id order by s.performed_at,
         array_position(array['no_valid_result', 'pass', 'refer'], s.outcome), array_position(@methods, s.method), array_position(@stages, s.stage),
         s.site_id, array_position(array['right', 'left'], s.ear), array_position(@reasons, s.reason), s.id) as nth
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
   and case
         when @trust_stage and s.stage <> 'unstated' then s.stage = 'birth_admission'
         when stay.ended_on is not null then s.performed_at::date <= stay.ended_on
         when coalesce(b.nicu_admitted_on, sent.sent_on) is not null
           then s.performed_at::date <= coalesce(b.nicu_admitted_on, sent.sent_on) + @inpatient_days
         when b.place = 'home' then false
         when b.born_at is not null then (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone) <= make_interval(hours => @admission_hours)
         else (s.performed_at::date - b.born_on) * 24 <= @admission_hours
       end
), placed as (
  select a.*, row_number() over (partition by infant_id, site_id order by nth) = 1 as first,
         outcome <> 'no_valid_result' and row_number() over (partition by infant_id, site_id, ear
           order by (outcome = 'no_valid_result'), nth desc) = 1 as decides,
         first_value(site_id) over (partition by infant_id order by nth) = site_id as at_first_site,
         first_value(performed_at) over (partition by infant_id order by nth) as began,
         lag(performed_at) over (partition by infant_id, site_id order by nth) as before
    from attempts a
), sessions as (
  select p.*, at_first_site and not coalesce(bool_or(performed_at - began > make_interval(hours => @session_hours)
           and performed_at - before > make_interval(mins => @sitting_minutes)) over (partition by infant_id, site_id order by nth), false) as in_session
    from placed p
), valid as (
  select s.*, in_session and outcome <> 'no_valid_result' and row_number() over (partition by infant_id, site_id, ear
           order by (not in_session), (outcome = 'no_valid_result'), nth) = 1 as first_valid
    from sessions s
), firsts as (
  select f.site_id, f.unit, f.performed_at::date as day, f.infant_id, f.age_hours, f.early, f.in_session,
         count(distinct v.ear) as ears, count(*) filter (where v.decides) as decided,
         count(*) filter (where v.decides and v.outcome = 'refer') as referred,
         count(*) filter (where v.first_valid) as valid, count(*) filter (where v.first_valid and v.outcome = 'refer') as session_referred
    from valid f join valid v on v.infant_id = f.infant_id and v.site_id = f.site_id
   where f.first group by f.site_id, f.unit, f.performed_at, f.infant_id, f.age_hours, f.early, f.in_session
), counted as (
  select site_id, unit, performed_at::date as day, count(*) as tests,
         count(*) filter (where outcome = 'no_valid_result' and reason = 'no_seal') as no_seal,
         count(*) filter (where outcome = 'no_valid_result' and reason = 'noise') as noise,
         count(*) filter (where outcome = 'no_valid_result' and reason not in ('no_seal', 'noise')) as other_reason,
         count(*) filter (where outcome = 'refer') as refers,
         0 as infants, 0 as ears, 0 as concluded, 0 as both_ears, 0 as referred, 0 as referred_both, 0 as with_age, 0 as early, 0 as first_day,
         0 as sessions, 0 as session_both_ears, 0 as session_referred, 0 as session_referred_both
    from valid group by 1, 2, 3
  union all
  select site_id, unit, day, 0, 0, 0, 0, 0, count(*), sum(ears), count(*) filter (where decided > 0), count(*) filter (where decided = 2),
         count(*) filter (where referred > 0), count(*) filter (where referred = 2), count(age_hours), count(*) filter (where early),
         count(*) filter (where age_hours < 24), count(*) filter (where in_session and valid > 0),
         count(*) filter (where in_session and valid = 2), count(*) filter (where in_session and session_referred > 0),
         count(*) filter (where in_session and session_referred = 2)
    from firsts group by 1, 2, 3
)
select concat_ws(' ', site_id, unit, day, {sums}) from counted group by site_id, unit, day order by 1
