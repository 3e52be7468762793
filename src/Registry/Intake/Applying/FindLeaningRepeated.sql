-- Which of some rows that lean their site sent before with the same content, where that row leans still. "offset 0": one probe of an index
-- for each row.
select distinct sent.n
  from unnest($1::uuid[], $2::text[]) with ordinality as sent (site, content, n)
 cross join lateral (
   select submission_id, row_number from submission_rows where content is not null and content = sent.content::jsonb offset 0) r
  join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number and h.site_id = sent.site
   and h.leans_on is not null
