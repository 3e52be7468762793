-- A page, oldest first, after a position; or all.
select w.submission_id, w.row_number, w.line, w.kind, w.outcome, w.site_id, w.since, w.hold, w.problems::text, site.name
  from waiting w join sites site on site.id = w.site_id
 where @after_since::timestamptz is null or (w.since, w.submission_id, w.row_number) > (@after_since, @after_id, @after_row)
 order by w.since, w.submission_id, w.row_number limit @take
