-- Rejected rows that came back wait no more, and say which row is in their place: the row that was named, or, where it had been rejected as
-- it was before, the one that waits for it. Only a site's own rows, and no row by itself. "offset 0": one probe of an index for each row.
with back as (
  select * from unnest($1::uuid[], $2::int[], $3::uuid[], $4::uuid[], $5::int[], $6::timestamptz[]) as b (id, row, site, by_id, by_row, at)
),
named as (
  select back.*, o.repeated, o.content_key
    from back
    join submissions s on s.id = back.id and s.site_id = back.site
   cross join lateral (
     select repeated, content_key from submission_rows where submission_id = back.id and row_number = back.row offset 0) o
),
closed as (
  select id, row, by_id, by_row, at from named
  union
  select w.submission_id, w.row_number, n.by_id, n.by_row, n.at
    from named n
   cross join lateral (
     select submission_id, row_number from submission_rows
      where n.repeated and content_key is not null and content_key = n.content_key and outcome = 'rejected' and discarded_at is null offset 0) w
    join submissions s on s.id = w.submission_id and s.site_id = n.site
)
update submission_rows r
   set discarded_at = c.at,
       problems = coalesce(r.problems, '[]')
         || jsonb_build_array(jsonb_build_object('field', null, 'reason', $7, 'submission', c.by_id, 'row', c.by_row))
  from closed c
 where r.submission_id = c.id and r.row_number = c.row and r.outcome = 'rejected' and r.discarded_at is null
   and (c.id, c.row) <> (c.by_id, c.by_row)
