-- Facts of the given infants that hold or that a row of their site closed (the last column says how), one statement
-- per kind in the order of RecordedFacts.cs, which runs those of the kinds it is asked for. What a person took back is left out.
-- "offset 0": one probe of an index for each closed fact, none for one that holds.
select f.id, f.infant_id, f.site_id, f.born_on, f.born_at, f.place, f.sex, f.plurality, f.birth_order,
    f.gestation_weeks, f.birth_weight_grams, f.nicu_admitted_on, f.nicu_discharged_on, f.discharged_on,
    f.infant_given_name, f.infant_family_name, f.mother_given_name, f.mother_family_name, f.mother_born_on, f.county,
    f.insurance, f.language, f.race_ethnicity, f.maternal_education, f.contact_email, f.contact_phone, f.email_consent, s.site_id,
    f.submission_id, f.row_number, c.action
  from births f
  left join lateral (select site_id from submissions where id = f.submission_id offset 0) s on true
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.ear, f.outcome, f.performed_at, f.method, f.reason, f.stage, f.instrument,
    f.probe, f.screener, d.stimulus, d.duration_seconds, d.artefacts_rejected, d.ear_canal_volume_ml, d.ambient_noise_db, d.bands,
    d.screening_id is not null, f.submission_id, f.row_number, c.action
  from screenings f
  left join lateral (select * from test_details where screening_id = f.id offset 0) d on true
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.evaluated_on, f.right_finding, f.left_finding, f.right_degree, f.left_degree,
    f.provisional, f.permanent, f.submission_id, f.row_number, c.action
  from diagnoses f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.kind, f.happened_on, f.submission_id, f.row_number, c.action
  from interventions f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.died_on, f.submission_id, f.row_number, c.action
  from deaths f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.kind, f.moved_on, f.submission_id, f.row_number, c.action
  from moves f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.to_site_id, f.transferred_on, f.submission_id, f.row_number, c.action
  from transfers f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.step, f.refused_on, f.revoked_on, f.refused_by, f.submission_id, f.row_number, c.action
  from refusals f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.kind, f.noted_on, f.submission_id, f.row_number, c.action
  from risks f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.step, f.attempted_on, f.outcome, f.submission_id, f.row_number, c.action
  from contacts f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.admitted_on, f.discharged_on, f.raises_risk, f.submission_id, f.row_number, c.action
  from readmissions f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
select f.id, f.infant_id, f.site_id, f.step, f.from_on, f.ended_on, f.submission_id, f.row_number, c.action
  from medical_delays f
  left join lateral (select action from corrections where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null);
