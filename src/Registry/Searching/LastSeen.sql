-- Who has had to do with @infant, the last first: one line a site and kind.
select e.site_id, e.kind, max(e.on_day) as on_day
  from (
    select site_id, 'birth' as kind, coalesce(discharged_on, born_on) as on_day from births where infant_id = @infant and superseded_at is null
    union all
    select site_id, 'screening', performed_at::date from screenings where infant_id = @infant and superseded_at is null
    union all
    select site_id, 'diagnosis', evaluated_on from diagnoses where infant_id = @infant and superseded_at is null
    union all
    select site_id, 'intervention', happened_on from interventions where infant_id = @infant and superseded_at is null
    union all
    select coalesce(appointment_site_id, site_id), 'appointment', appointment_on from appointments
     where infant_id = @infant and superseded_at is null and kind = 'kept') e
 group by e.site_id, e.kind
 order by on_day desc, e.kind;
