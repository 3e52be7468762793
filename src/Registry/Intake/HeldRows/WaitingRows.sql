-- Held and rejected rows that wait for a person, or for what they lack, each with the day it came. Every filter may be null.
-- The statements of ListWaitingRows and ChooseRows read it as "waiting".
select r.submission_id, r.row_number, r.line, r.kind, r.outcome, s.site_id, s.received_at as since, h.reason as hold, r.problems
  from submission_rows r
  join submissions s on s.id = r.submission_id
  left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number and r.outcome = 'held'
 where r.outcome in ('held', 'rejected') and r.discarded_at is null
   and (@site::uuid is null or s.site_id = @site)
   and (@submission::uuid is null or r.submission_id = @submission)
   and (@outcome::text is null or r.outcome = @outcome)
   and (@kind::text is null or coalesce(r.kind, 'unknown') = @kind)
   and (@hold::text is null or h.reason = @hold)
   and (@reason::text is null or exists (
         select from jsonb_array_elements(r.problems) p where p ->> 'reason' = @reason and p ->> 'field' is not distinct from @field))
   and (@from::timestamptz is null or s.received_at >= @from)
   and (@before::timestamptz is null or s.received_at < @before)
