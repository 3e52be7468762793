-- Facts of one kind of the given infants as known at a moment: recorded by then, and not yet corrected or retracted by then.
select f.infant_id, f.site_id, {columns for rules}
  from {table} f
 where f.infant_id = any(@infants) and f.recorded_at <= @known and (f.superseded_at is null or f.superseded_at > @known)
