-- Infants a week's meeting talks about, by topic: as known at the end of the day @through, a day of the week that began on @from. The
-- placeholder is the visibility rule on t.infant_id. What the night @first found had been before it, and is as known that night.
with topics as (
  select 'newly_lost' as topic, f.infant_id, f.lost_on as day, f.step
    from loss_findings f
   where f.lost_on between @from and @through and (f.found_on <= @through or f.found_on = @first)
     and (f.recovered_on is null or f.recovered_on > @through)
  union all
  -- Lost earlier by the rules, and not known to be until this week: told late, or by other rules.
  select 'lost_before', f.infant_id, f.lost_on, f.step
    from loss_findings f
   where f.found_on between @from and @through and f.found_on > @first and f.lost_on < @from
     and (f.recovered_on is null or f.recovered_on > @through)
  union all
  -- Not lost any more is good news only where the child came: not who died, moved away or declined, nor who is lost at the next step.
  select 'found_again', f.infant_id, f.recovered_on, f.step
    from loss_findings f
   where f.recovered_on between @from and @through and f.recovered_as in ('completed', 'in_process', 'straight_to_diagnostic')
     and not exists (
       select from loss_findings n
        where (n.found_on between @from and @through or n.lost_on between @from and @through) -- by their indexes
          and n.infant_id = f.infant_id and n.id <> f.id and (n.found_on = f.recovered_on or n.lost_on = f.recovered_on))
  union all
  select 'diagnosed_in_time', s.infant_id, s.diagnosed_on, 'diagnosis'
    from infant_status s
   where s.diagnosed_state = 'met' and s.diagnosed_on between @from and @through
     and exists (
       select from diagnoses d where d.infant_id = s.infant_id and d.evaluated_on = s.diagnosed_on and d.recorded_at <= @end)
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
