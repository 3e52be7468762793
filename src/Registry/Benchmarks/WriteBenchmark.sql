-- One figure of one day; a second run on the day replaces the first.
insert into benchmark_results
  (measure, period_start, period_end, as_of, policy_version, numerator, denominator, exclusions, computed_at)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
on conflict (measure, period_start, period_end, as_of) do update
  set policy_version = excluded.policy_version, numerator = excluded.numerator, denominator = excluded.denominator,
      exclusions = excluded.exclusions, computed_at = excluded.computed_at;
