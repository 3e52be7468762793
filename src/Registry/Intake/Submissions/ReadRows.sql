-- What waits for a word about its infant does not say which one it is. The rows of a submission that fit a filter, in their order, after a row.
select r.row_number, r.line, r.kind, r.outcome, case when r.outcome = 'held' then h.reason end, r.problems::text, 
       case when r.outcome = 'held' and h.reason in ('awaits_confirmation', 'not_confirmed') then null else r.infant_id end, r.content
  from submission_rows r
  left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
 where r.submission_id = $1
   and r.row_number > $2
   and ($3::text is null or r.outcome = $3)
   and ($4::text is null or r.kind = $4)
   and ($5::text is null or (r.outcome = 'held' and h.reason = $5))
   and ($6::text is null or exists (
         select from jsonb_array_elements(r.problems) p where p ->> 'reason' = $6 and p ->> 'field' is not distinct from $7))
   and (not $8 or r.discarded_at is null or r.repeated)
 order by r.row_number limit $9
