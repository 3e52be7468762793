-- Infants a week's meeting talks about, by topic: as it stood at the end of the day @through, a day of the week that began on @from. The
-- placeholder is the visibility rule on t.infant_id. A hand-off, an appointment and a loss are as they were that day; a diagnosis is as
-- known now.
with topics as (
  select 'newly_lost' as topic, f.infant_id, f.found_on as day, f.step
    from loss_findings f
   where f.found_on between @from and @through and (f.recovered_on is null or f.recovered_on > @through)
   union all
  -- Not lost any more is good news only where the child came: not who died, moved away or declined, nor who is lost at the next step.
  select 'found_again', f.infant_id, f.recovered_on, f.step
    from loss_findings f
    join infant_status s on s.infant_id = f.infant_id
   where f.recovered_on between @from and @through
     and case f.step when 'screening' then s.screening_category when 'diagnosis' then s.diagnosis_category else s.intervention_category end
       in ('completed', 'in_process', 'straight_to_diagnostic')
     and not exists (select from loss_findings n where n.infant_id = f.infant_id and n.found_on = f.recovered_on)
   union all
  select 'diagnosed_in_time', s.infant_id, s.diagnosed_on, 'diagnosis'
    from infant_status s
   where s.diagnosed_state = 'met' and s.diagnosed_on between @from and @through
   union all
  select 'hand_off_overdue', h.infant_id, h.acknowledge_by, h.step
    from hand_offs h
   where h.acknowledge_by < @through and h.sent_at <= @end and (h.acknowledged_on is null or h.acknowledged_on > @through)
     and (h.superseded_at is null or h.superseded_at > @end)
   union all
  select distinct 'appointment_missed', a.infant_id, a.appointment_on, a.step
    from appointments a
   where a.kind = 'no_show' and a.happened_on between @from and @through
     and a.recorded_at <= @end and (a.superseded_at is null or a.superseded_at > @end)
), seen as (
  select t.* from topics t where {visible}
)
