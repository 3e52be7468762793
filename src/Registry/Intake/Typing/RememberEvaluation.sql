-- The latest evaluation of a site by one evaluator since a day, of infants the viewer sees.
select d.evaluation_place, t.behavioral_method, t.air_transducer, t.emissions_method, t.abr_scale, t.abr_correction
  from diagnoses d join diagnosis_details t on t.diagnosis_id = d.id
 where d.site_id = $1 and d.evaluator = $2 and d.evaluated_on > $3 and d.superseded_at is null
 order by d.evaluated_on desc, d.recorded_at desc limit 1
