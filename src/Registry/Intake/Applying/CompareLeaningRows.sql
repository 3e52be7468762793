-- Remembers what some rows that lean were compared with.
update held_rows h set leans_on = {digest}
  from unnest($1::uuid[], $2::int[]) as n (submission_id, row_number)
 where h.submission_id = n.submission_id and h.row_number = n.row_number and h.leans_on is not null
