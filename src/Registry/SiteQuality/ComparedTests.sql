-- The attempts of one site whose bands were reported and whose outcome a criterion can speak of; the placeholder is Attempts.sql.
with attempts as (
{attempts}
)
select a.id, a.outcome, a.method, a.instrument, d.bands
  from attempts a
 cross join lateral (select bands from test_details where screening_id = a.id offset 0) d
 where a.outcome in ('pass', 'refer') and d.bands is not null;
