-- Whom the statuses of today call lost and no finding does.
select s.infant_id
  from infant_status s
 where s.loss <> 'none' and s.lost_at is not null
   and not exists (select from loss_findings f where f.infant_id = s.infant_id and f.recovered_on is null)
 order by s.infant_id
