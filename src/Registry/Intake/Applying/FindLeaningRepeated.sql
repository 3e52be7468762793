-- Which of some rows that lean their site sent before with the same content (by its key), where that row leans still. "offset 0": one probe of an index
-- for each row.
select distinct sent.n
  from unnest($1::uuid[], $2::text[]) with ordinality as sent (site, key, n)
 cross join lateral (
   select submission_id, row_number from submission_rows where content_key is not null and content_key = sent.key offset 0) r
  join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number and h.site_id = sent.site
   and h.leans_on is not null
