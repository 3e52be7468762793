-- What became of waiting rows, in three statements. First the row's outcome, unless it is as it was.
update submission_rows r
   set outcome = n.outcome, infant_id = n.infant_id, problems = case when n.outcome = 'held' then r.problems else n.problems::jsonb end
  from unnest($1::uuid[], $2::int[], $3::text[], $4::uuid[], $5::text[]) as n (submission_id, row_number, outcome, infant_id, problems)
 where r.submission_id = n.submission_id and r.row_number = n.row_number
   and (n.outcome <> 'held' or (r.outcome, r.infant_id) is distinct from (n.outcome, n.infant_id));

-- Then what it waits for now, or that it was applied by itself.
update held_rows h
   set reason = coalesce(n.reason, h.reason), infant_id = n.infant_id, leans_on = case when n.leans then '' end,
       resolution = case when n.reason is null then 'applied' end,
       resolved_at = case when n.reason is null then $4 end
  from unnest($1::uuid[], $2::int[], $3::text[], $5::uuid[], $6::bool[]) as n (submission_id, row_number, reason, infant_id, leans)
 where h.submission_id = n.submission_id and h.row_number = n.row_number
   and (h.reason, h.infant_id) is distinct from (n.reason, n.infant_id);

-- Then the counts of its submission.
update submissions s
   set held = s.held - c.settled, accepted = s.accepted + c.accepted, unchanged = s.unchanged + c.unchanged,
       rejected = s.rejected + c.rejected
  from unnest($1::uuid[], $2::int[], $3::int[], $4::int[], $5::int[]) as c (id, settled, accepted, unchanged, rejected)
 where s.id = c.id;
