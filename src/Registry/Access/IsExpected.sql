/* A site expects the infant of an appointment there (f), or saw it and is to report on it: not one that was moved away or cancelled since,
   nor one booked anew elsewhere since: for the same day, or after nobody came. */
f.kind in ('made', 'kept', 'no_show')
and not exists (
  select from appointments e
   where e.infant_id = f.infant_id and e.step = f.step and e.appointment_on = f.appointment_on and e.superseded_at is null
     and e.kind in ('moved', 'cancelled') and e.happened_on >= f.happened_on)
and (f.kind = 'kept' or not exists (
  select from appointments n
   where n.infant_id = f.infant_id and n.step = f.step and n.superseded_at is null and n.kind = 'made'
     and n.appointment_site_id <> f.appointment_site_id
     and (n.recorded_at, n.id) > (f.recorded_at, f.id)
     and (n.appointment_on = f.appointment_on or exists (
       select from appointments m
        where m.infant_id = f.infant_id and m.step = f.step and m.appointment_on = f.appointment_on and m.superseded_at is null
          and m.kind = 'no_show' and m.happened_on >= f.happened_on and m.recorded_at <= n.recorded_at))))
