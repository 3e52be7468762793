-- Loss as the statuses of today say it: close what no longer holds, open what is new. Running it again changes nothing.
with closed as (
  update loss_findings f set recovered_on = @today
   where f.recovered_on is null
     and not exists (select from infant_status s where s.infant_id = f.infant_id and s.loss <> 'none' and s.lost_at = f.step)
  returning f.infant_id
), opened as (
  insert into loss_findings (id, infant_id, step, loss, found_on)
  select gen_random_uuid(), s.infant_id, s.lost_at, s.loss, @today
    from infant_status s
   where s.loss <> 'none' and s.lost_at is not null
     and not exists (select from loss_findings f where f.infant_id = s.infant_id and f.recovered_on is null and f.step = s.lost_at)
     -- the unique index sees the row as it was before this statement: an infant lost at another step is opened by the next run
     and not exists (select from loss_findings f where f.infant_id = s.infant_id and f.recovered_on is null)
  on conflict do nothing
  returning infant_id
)
select (select count(*) from opened)::int, (select count(*) from closed)::int;
