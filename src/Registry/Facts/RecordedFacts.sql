-- Facts of one kind of the given infants: those that hold, and those a row of their site closed (the last column says how). What a person
-- took back is left out. "offset 0": one probe of an index for each closed fact, none for one that holds.
select f.infant_id, f.site_id, {columns}, f.id, f.submission_id, f.row_number, f.recorded_at, f.superseded_at,
       {said by}, c.action
  from {table} f
  {detail}
  left join lateral (select action from corrections
    where f.superseded_at is not null and fact_id = f.id and superseded_at is null offset 0) c on true
 where f.infant_id = any(@infants) and (f.superseded_at is null or c.action is not null)
