-- Does anything recorded for the infant happen before the given day?
select exists (
  select from screenings where infant_id = $1 and superseded_at is null and performed_at < $2::date
  union all select from diagnoses where infant_id = $1 and superseded_at is null and evaluated_on < $2
  union all select from interventions where infant_id = $1 and superseded_at is null and happened_on < $2
  union all select from deaths where infant_id = $1 and superseded_at is null and died_on < $2
  union all select from moves where infant_id = $1 and superseded_at is null and moved_on < $2
  union all select from transfers where infant_id = $1 and superseded_at is null and transferred_on < $2
  union all select from refusals where infant_id = $1 and superseded_at is null and refused_on < $2
  union all select from risks where infant_id = $1 and superseded_at is null and noted_on < $2
  union all select from contacts where infant_id = $1 and superseded_at is null and attempted_on < $2
  union all select from readmissions where infant_id = $1 and superseded_at is null and admitted_on < $2
  union all select from medical_delays where infant_id = $1 and superseded_at is null and from_on < $2
)
