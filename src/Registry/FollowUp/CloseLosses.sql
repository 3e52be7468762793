-- Closes what the statuses of today say no more, with what the survey calls the step now.
update loss_findings f
   set recovered_on = @today,
       recovered_as = (
         select case f.step when 'screening' then s.screening_category when 'diagnosis' then s.diagnosis_category
                  else s.intervention_category end
           from infant_status s where s.infant_id = f.infant_id)
 where f.recovered_on is null
   and not exists (select from infant_status s where s.infant_id = f.infant_id and s.loss <> 'none' and s.lost_at = f.step)
