-- The infant of a recorded fact that is a resource of its own: the resource's id begins with the fact's.
select infant_id from births where id = $1 and superseded_at is null
union all select infant_id from screenings where id = $1 and superseded_at is null
union all select infant_id from diagnoses where id = $1 and superseded_at is null
union all select infant_id from risks where id = $1 and superseded_at is null
union all select infant_id from interventions where id = $1 and superseded_at is null
union all select infant_id from moves where id = $1 and superseded_at is null
union all select infant_id from transfers where id = $1 and superseded_at is null
union all select infant_id from refusals where id = $1 and superseded_at is null
union all select infant_id from contacts where id = $1 and superseded_at is null
union all select infant_id from readmissions where id = $1 and superseded_at is null
union all select infant_id from medical_delays where id = $1 and superseded_at is null
limit 1
