-- Which of some sites' idempotency keys are free: used by no submission, and locked here until the transaction ends.
select n
  from unnest($1, $2, $3) with ordinality as k (site, key, lock, n)
 where not exists (select from submissions s where s.site_id = k.site and s.idempotency_key = k.key)
   and pg_try_advisory_xact_lock(hashtextextended(lock, $4))
