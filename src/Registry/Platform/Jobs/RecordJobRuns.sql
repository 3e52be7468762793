-- A run starts: what its own job left running was interrupted, and runs kept long enough are forgotten.
with interrupted as (
  update job_runs set outcome = 'interrupted', finished_at = $4 where background_job_id = $3 and outcome = 'running'
),
old as (
  delete from job_runs where started_at < $5
)
insert into job_runs (id, job, background_job_id, started_at, outcome) values ($1, $2, $3, $4, 'running')
