-- Rows that had waited for a claim and were applied by it wait again. First the submissions' counts,
update submissions s set accepted = s.accepted - c.rows, held = s.held + c.rows
  from (
    select h.submission_id, count(*)::int as rows
      from unnest($1::uuid[], $2::int[]) as n (submission_id, row_number)
      join held_rows h using (submission_id, row_number)
     where h.resolution = 'applied' group by h.submission_id) c
 where s.id = c.submission_id;

-- then the rows' outcome,
update submission_rows r set outcome = 'held'
  from unnest($1::uuid[], $2::int[]) as n (submission_id, row_number)
  join held_rows h using (submission_id, row_number)
 where h.resolution = 'applied' and r.submission_id = n.submission_id and r.row_number = n.row_number;

-- then what they wait for.
update held_rows h set reason = 'awaits_confirmation', resolution = null, resolved_at = null
  from unnest($1::uuid[], $2::int[]) as n (submission_id, row_number)
 where h.submission_id = n.submission_id and h.row_number = n.row_number and h.resolution = 'applied'
