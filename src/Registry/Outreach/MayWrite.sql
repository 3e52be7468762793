-- Who may be written to now, where, and about what: the family consented and an address of the mother is known, asked for no stop, and the infant has not died,
-- moved away, is not in hospital, and the step is not refused. One place: used to queue, to withdraw and once more when a reminder is sent.
-- A refusal ends when it is revoked or when the family acts at that step on a later day, as in Registry.Rules (Presence.ActedAfter); a
-- caregiver's concern counts after any refusal. A hand-off is between two programs.
with due_steps as (
  select s.infant_id, due ->> 'step' as step, (due ->> 'dueOn')::date as due_on, due ->> 'rule' as rule,
         case when due ->> 'step' in ('screen', 'complete_screen', 'rescreen', 'repeat_screen', 'abr_screen', 'cmv_test') then 'screening'
              when due ->> 'step' in ('diagnostic_evaluation', 'complete_diagnosis', 'middle_ear_reevaluation',
                                      'surveillance_evaluation', 'monitoring') then 'diagnosis'
              when due ->> 'step' = 'amplification_fitting' then null
              else 'intervention' end as path_step
    from infant_status s
   cross join lateral jsonb_array_elements(s.dues) due
   where due ->> 'step' <> 'hand_off' and s.flags & 512 = 0
)
select d.infant_id, d.step, d.due_on, address.email, address.email_key, address.kept_in, b.language
  from due_steps d
  join births b on b.infant_id = d.infant_id and b.superseded_at is null
 cross join lateral ({newest_address}) address
 where b.email_consent
   and not exists (select from mail_stops m where m.infant_id = d.infant_id)
   -- The address is the mother's: not where she may not be told, nor where somebody else than the parents holds custody and nobody said that
   -- she may be. Of each the newest statement holds (Facts/FamilyNow).
   and not exists (
     select from (
         select bool_or(f.told) filter (where f.kind = 'mother') as told, bool_or(f.custody) filter (where f.kind = 'mother') as custody,
                bool_or(f.custody) filter (where f.kind not in ('mother', 'father', 'other_parent', 'self')) as guarded
           from (select c.kind,
                        (array_agg(c.may_be_told order by coalesce(c.stated_on, (c.recorded_at at time zone 'UTC')::date) desc, c.recorded_at desc, c.row_number desc)
                           filter (where c.may_be_told is not null))[1] as told,
                        (array_agg(c.holds_custody order by coalesce(c.stated_on, (c.recorded_at at time zone 'UTC')::date) desc, c.recorded_at desc, c.row_number desc)
                           filter (where c.holds_custody is not null))[1] as custody
                   from family_contacts c where c.infant_id = d.infant_id and c.superseded_at is null group by c.kind) f) family
      where not coalesce(family.told, coalesce(family.custody, false) or not coalesce(family.guarded, false)))
   -- An appointment is booked: the family knows, and hears again if nothing came of it.
   and not exists (select from appointments a
         where a.infant_id = d.infant_id and a.superseded_at is null and a.kind = 'made' and a.step = d.path_step and a.appointment_on >= @today
           and not exists (select from appointments e where e.infant_id = a.infant_id and e.superseded_at is null and e.step = a.step
                              and e.appointment_on = a.appointment_on and e.kind <> 'made' and e.happened_on >= a.happened_on))
   and not exists (select from deaths x where x.infant_id = d.infant_id and x.superseded_at is null)
   and coalesce((select m.kind from moves m
                  where m.infant_id = d.infant_id and m.superseded_at is null and m.kind <> 'handed_off'
                  order by m.moved_on desc, m.recorded_at desc limit 1), 'returned') in ('returned', 'adopted_within_region')
   and (d.rule = 'surveillance.caregiver-concern' or not exists (
     select from refusals r
      where r.infant_id = d.infant_id and r.superseded_at is null and r.revoked_on is null and r.step = d.path_step
        and not exists (select from contacts c where c.infant_id = r.infant_id and c.superseded_at is null and c.step = r.step
                           and c.outcome = 'appointment_made' and c.attempted_on > r.refused_on)
        and not exists (select from moves m where m.infant_id = r.infant_id and m.superseded_at is null
                           and m.kind = 'adopted_within_region' and m.moved_on > r.refused_on)
        and not (r.step = 'screening' and exists (select from screenings t where t.infant_id = r.infant_id and t.superseded_at is null
                           and t.outcome <> 'not_performed' and t.performed_at::date > r.refused_on))
        and not (r.step = 'diagnosis' and exists (select from diagnoses e where e.infant_id = r.infant_id and e.superseded_at is null
                           and e.evaluated_on > r.refused_on))
        and not (r.step = 'intervention' and exists (select from interventions i where i.infant_id = r.infant_id and i.superseded_at is null
                           and i.kind in ('enrolled', 'service_plan') and i.happened_on > r.refused_on))))
