-- Current facts of the given infants, of the given kinds, one statement per table in the order RecordedFacts.cs reads them.
select id, infant_id, site_id, born_on, born_at, place, sex, plurality, birth_order, gestation_weeks, birth_weight_grams, nicu_admitted_on,
    nicu_discharged_on, discharged_on, infant_given_name, infant_family_name, mother_given_name, mother_family_name,
    mother_born_on, county, insurance, language, race_ethnicity, maternal_education, contact_email, contact_phone, email_consent
  from births where 'birth' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, ear, outcome, performed_at, method, reason, stage, instrument, probe, screener
  from screenings where 'screening' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, evaluated_on, right_finding, left_finding, right_degree, left_degree, provisional, permanent
  from diagnoses where 'diagnosis' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, kind, happened_on
  from interventions where 'intervention' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, died_on
  from deaths where 'death' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, kind, moved_on
  from moves where 'move' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, to_site_id, transferred_on
  from transfers where 'transfer' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, step, refused_on, revoked_on, refused_by
  from refusals where 'refusal' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, kind, noted_on
  from risks where 'risk' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, step, attempted_on, outcome
  from contacts where 'contact' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, admitted_on, discharged_on, raises_risk
  from readmissions where 'readmission' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
select id, infant_id, site_id, step, from_on, ended_on
  from medical_delays where 'medical_delay' = any(@kinds) and infant_id = any(@infants) and superseded_at is null;
