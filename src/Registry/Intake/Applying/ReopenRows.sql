-- What became of leaning rows that were asked again, in three statements. First the row.
update submission_rows r set outcome = n.outcome, infant_id = n.infant_id, problems = n.problems::jsonb
  from unnest($1::uuid[], $2::int[], $3::text[], $4::uuid[], $5::text[]) as n (submission_id, row_number, outcome, infant_id, problems)
 where r.submission_id = n.submission_id and r.row_number = n.row_number;

-- Then whether it waits now and why, or leans on what it was compared with this time.
update held_rows h
   set reason = coalesce(n.reason, h.reason), infant_id = n.infant_id, leans_on = case when n.leans then '' end,
       resolution = case when n.reason is null then 'applied' end, resolved_by = null,
       resolved_at = case when n.reason is null then $6 end
  from unnest($1::uuid[], $2::int[], $3::text[], $4::uuid[], $5::bool[]) as n (submission_id, row_number, reason, infant_id, leans)
 where h.submission_id = n.submission_id and h.row_number = n.row_number;

-- Then the counts of its submission.
update submissions s
   set held = s.held + c.held, accepted = s.accepted + c.accepted, unchanged = s.unchanged + c.unchanged, rejected = s.rejected + c.rejected
  from unnest($1::uuid[], $2::int[], $3::int[], $4::int[], $5::int[]) as c (id, held, accepted, unchanged, rejected)
 where s.id = c.id;
