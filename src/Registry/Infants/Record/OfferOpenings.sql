-- Openings with places left ({where} says which), how many, and where: some of each clinic, the soonest first. A place is taken by the last
-- appointment of an infant for a step and day, while nobody moved, cancelled or took it back.
select o.id, s.code, s.name, o.step, o.opens_on, o.starts_at, o.minutes, o.left_over
  from sites s
 cross join lateral (
   select o.*, o.capacity - taken.number as left_over
     from clinic_openings o
    cross join lateral (
      select count(*)::int as number
        from booked_openings k join appointments a on a.id = k.appointment_id
       where k.opening_id = o.id and a.superseded_at is null
         and not exists (
           select from appointments e
            where e.infant_id = a.infant_id and e.step = a.step and e.appointment_on = a.appointment_on and e.superseded_at is null
              and (e.kind in ('moved', 'cancelled') and e.happened_on >= a.happened_on
                or e.kind = 'made' and (e.recorded_at, e.id) > (a.recorded_at, a.id)))) taken
    where o.site_id = s.id and {where} and taken.number < o.capacity
    order by o.opens_on, o.starts_at
    limit @of_each) o
 order by o.opens_on, o.starts_at, s.name
 limit @most;
