-- A page of them, those that were not done first.
select b.submission_id, b.row_number, site.name, coalesce(r.kind, 'unknown'), r.outcome, b.state, b.reason
  from bulk_rows b join submission_rows r using (submission_id, row_number)
  join submissions s on s.id = b.submission_id join sites site on site.id = s.site_id
 where b.bulk_id = $1 order by b.reason is null, b.ordinal offset $2 limit $3
