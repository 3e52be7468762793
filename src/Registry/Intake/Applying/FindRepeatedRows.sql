-- Which of some rows their site sent before with the same content (by its key), and whether that row still waits with the same outcome; else a person
-- decided it, whatever was made of it since (its history has the row as it was). "offset 0": one probe of an index for each row.
select sent.n, bool_or(found.waits)
  from unnest(@sites::uuid[], @outcomes::text[], @keys::text[]) with ordinality as sent (site, outcome, key, n)
 cross join lateral (
         select r.outcome = sent.outcome and r.discarded_at is null as waits
           from (select r.submission_id, r.row_number, r.outcome, r.discarded_at from submission_rows r
                  where r.content_key is not null and r.content_key = sent.key offset 0) r
           join submissions s on s.id = r.submission_id and s.site_id = sent.site
          where (r.outcome = sent.outcome and r.discarded_at is null)
             or exists (select from row_changes c where c.submission_id = r.submission_id and c.row_number = r.row_number)
         union all
         select false
           from (select c.submission_id from row_changes c where (c.before -> 'row' ->> 'content_key') = sent.key offset 0) c
           join submissions s on s.id = c.submission_id and s.site_id = sent.site) found
 group by sent.n;
