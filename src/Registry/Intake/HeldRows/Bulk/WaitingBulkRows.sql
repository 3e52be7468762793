-- The rows of a bulk decision that wait, as they are kept, in their order. Columns as HeldContent reads them.
select r.submission_id, r.row_number, s.site_id, s.received_at, r.content, r.line, r.problems::text
  from bulk_rows b join submission_rows r using (submission_id, row_number) join submissions s on s.id = b.submission_id
 where b.bulk_id = $1 and r.outcome in ('held', 'rejected') and r.discarded_at is null
 order by b.ordinal
