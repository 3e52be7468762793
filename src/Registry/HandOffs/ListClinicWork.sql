-- What waits for a site (@site) as a clinic: what was handed to it, appointments there, evaluations and screens whose result it has not
-- sent, infants that came by a transfer and are to be evaluated, and results it is asked for. An infant may stand in more than one.
-- {visible} is the rule of who sees which infant. What went to closed sites that it continues is its own (site_heirs holds itself too).
with expected as (
  select a.infant_id, a.id, a.step, a.appointment_on as on_day, a.appointment_time as at_time, a.site_id as from_site,
         a.appointment_on >= @today as ahead
    from appointments a
   where a.appointment_site_id = any (array({sites})) and a.superseded_at is null and a.kind = 'made' and a.step <> 'intervention'
     and not exists (
       select from diagnoses d where d.infant_id = a.infant_id and d.superseded_at is null and d.evaluated_on >= a.appointment_on)
     and not exists (
       select from appointments e
        where e.infant_id = a.infant_id and e.step = a.step and e.appointment_on = a.appointment_on and e.superseded_at is null
          and e.kind in ('moved', 'cancelled', 'no_show') and e.happened_on >= a.happened_on)
), open as (
  select infant_id, id, step, on_day, from_site from expected where not ahead
  union all
  select h.infant_id, h.id, h.step, h.sent_at::date, h.sent_for_site_id
    from hand_offs h
   where h.shown_to_site_id = any (array({sites})) and h.superseded_at is null and h.state = 'accepted' and h.step <> 'intervention'
     and not exists (select from expected e where e.infant_id = h.infant_id)
  union all
  -- Who came by a transfer, while an evaluation is due.
  select t.infant_id, t.id, 'diagnosis', t.transferred_on, t.site_id
    from transfers t join infant_status s on s.infant_id = t.infant_id
   where t.to_site_id = any (array({sites})) and t.superseded_at is null
     and jsonb_path_exists(s.dues, '$[*] ? (@.step == "diagnostic_evaluation" || @.step == "complete_diagnosis")')
     and not exists (select from expected e where e.infant_id = t.infant_id)
     and not exists (
       select from hand_offs h
        where h.infant_id = t.infant_id and h.shown_to_site_id = any (array({sites})) and h.superseded_at is null)
), work (kind, infant_id, subject, step, on_day, at_time, from_site) as (
  select 'to_acknowledge', h.infant_id, h.id, h.step, h.acknowledge_by, null::time, h.sent_for_site_id
    from hand_offs h
   where h.shown_to_site_id = any (array({sites})) and h.superseded_at is null and h.state in ('sent', 'received')
  union all
  select 'appointment', e.infant_id, e.id, e.step, e.on_day, e.at_time, e.from_site from expected e where e.ahead
  union all
  select 'result_to_enter', o.infant_id, o.id, o.step, o.on_day, null, o.from_site
    from (select distinct on (infant_id, step) * from open order by infant_id, step, on_day desc) o
   where not exists (
       select from diagnoses d where d.infant_id = o.infant_id and d.superseded_at is null and d.evaluated_on >= o.on_day)
     and not (o.step = 'screening' and exists (
       select from screenings t where t.infant_id = o.infant_id and t.superseded_at is null and t.performed_at >= o.on_day))
  union all
  select 'result_asked', r.infant_id, r.id, r.step, r.asked_at::date, null, null
    from answer_requests r
   where r.to_site_id = any (array({sites})) and r.purpose = 'result' and r.answered_at is null and r.revoked_at is null
     and not exists (
       select from diagnoses d
        where d.infant_id = r.infant_id and d.site_id = any (array({sites})) and d.superseded_at is null and d.recorded_at >= r.asked_at)
     and not (r.step = 'screening' and exists (
       select from screenings t
        where t.infant_id = r.infant_id and t.site_id = any (array({sites})) and t.superseded_at is null and t.recorded_at >= r.asked_at))
)
select w.kind, w.infant_id, w.subject, w.step, w.on_day, w.at_time, sender.name, b.born_on, b.infant_given_name, b.infant_family_name,
       b.mother_given_name, b.mother_family_name, b.contact_phone, b.language, number.value,
       sender.code, family.said, handed.for_whom
  from work w
  left join hand_offs handed on handed.id = w.subject and w.kind in ('to_acknowledge', 'result_to_enter')
  join births b on b.infant_id = w.infant_id and b.superseded_at is null
  left join sites sender on sender.id = w.from_site
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = w.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = @site) desc, i.recorded_at, i.id limit 1) number on true
{family}
 where {visible}
 order by w.on_day, w.at_time nulls first, w.infant_id, w.kind
 limit @most;
