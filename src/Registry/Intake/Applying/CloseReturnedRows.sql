-- Rejected rows that came back wait no more, and say which row is in their place. Only a site's own row, and no row by itself.
update submission_rows r
   set discarded_at = back.at,
       problems = coalesce(r.problems, '[]')
         || jsonb_build_array(jsonb_build_object('field', null, 'reason', $7, 'submission', back.by_id, 'row', back.by_row))
  from unnest($1::uuid[], $2::int[], $3::uuid[], $4::uuid[], $5::int[], $6::timestamptz[]) as back (id, row, site, by_id, by_row, at)
  join submissions s on s.id = back.id and s.site_id = back.site
 where r.submission_id = back.id and r.row_number = back.row and r.outcome = 'rejected' and r.discarded_at is null
   and (back.id, back.row) <> (back.by_id, back.by_row)
