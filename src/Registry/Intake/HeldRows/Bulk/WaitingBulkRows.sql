-- The rows of a bulk decision that wait. Columns, values and contents read it as "waiting".
select r.submission_id, r.row_number, s.site_id, s.received_at, r.content, r.line, r.problems, b.ordinal
  from bulk_rows b join submission_rows r using (submission_id, row_number) join submissions s on s.id = b.submission_id
 where b.bulk_id = $1 and r.outcome in ('held', 'rejected') and r.discarded_at is null
