-- Facts of the given infants as known at a moment: recorded by then, and not yet corrected or retracted by then.
-- One statement per table, in the order ReadFacts.cs reads them.
select infant_id, site_id, born_on, born_at, place, gestation_weeks, nicu_admitted_on, nicu_discharged_on, discharged_on
  from births where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, ear, outcome, performed_at, method, reason, stage, site_id
  from screenings where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, evaluated_on, right_finding, left_finding, right_degree, left_degree, provisional, permanent
  from diagnoses where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, kind, happened_on
  from interventions where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, died_on
  from deaths where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, kind, moved_on
  from moves where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, transferred_on, to_site_id
  from transfers where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, step, refused_on, revoked_on
  from refusals where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, kind, noted_on
  from risks where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, step, attempted_on, outcome
  from contacts where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, admitted_on, discharged_on, raises_risk
  from readmissions where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
select infant_id, step, from_on, ended_on
  from medical_delays where infant_id = any(@infants) and recorded_at <= @known and (superseded_at is null or superseded_at > @known);
