-- Openings of a clinic from today on, with who has a place in them: a row each, and one for an opening nobody took. A place is taken as
-- OfferOpenings.sql counts it. Who it is, is read beneath row security ({visible} is the rule).
select o.id, o.step, o.opens_on, o.starts_at, o.minutes, o.capacity, k.infant_id, b.infant_given_name, b.infant_family_name, b.mother_given_name,
       b.mother_family_name
  from unnest(@ids::uuid[], @steps::text[], @days::date[], @times::time[], @minutes::int[], @capacities::int[])
    as o (id, step, opens_on, starts_at, minutes, capacity)
  left join lateral (
    select k.infant_id
      from booked_openings k join appointments a on a.id = k.appointment_id
     where k.opening_id = o.id and a.superseded_at is null and {visible}
       and not exists (
         select from appointments e
          where e.infant_id = a.infant_id and e.step = a.step and e.appointment_on = a.appointment_on and e.superseded_at is null
            and (e.kind in ('moved', 'cancelled') and e.happened_on >= a.happened_on
              or e.kind = 'made' and (e.recorded_at, e.id) > (a.recorded_at, a.id)))) k on true
  left join births b on b.infant_id = k.infant_id and b.superseded_at is null
 order by o.opens_on, o.starts_at, o.id, b.mother_family_name;
