-- Of rows that come back to their site, the rejected rows they are: as they were kept, with what was found wrong.
select back.n, r.content, r.problems::text
  from unnest($1::uuid[], $2::int[]) with ordinality as back (submission_id, row_number, n)
  join submissions s on s.id = back.submission_id and s.site_id = $3
  join submission_rows r on r.submission_id = back.submission_id and r.row_number = back.row_number
 where r.content is not null and r.problems is not null
