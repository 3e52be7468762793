-- Rows of a day whose card id led nowhere, by sender, added to those before.
insert into unmatched_counts (site_id, day, rows, last_at)
select site_id, day, rows, last_at from unnest($1::uuid[], $2::date[], $3::int[], $4::timestamptz[]) as n (site_id, day, rows, last_at)
 order by site_id, day
on conflict (site_id, day) do update
   set rows = unmatched_counts.rows + excluded.rows, last_at = greatest(unmatched_counts.last_at, excluded.last_at)
