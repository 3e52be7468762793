-- A claim ($1 infant, $2 site) that waits, and is the viewer's to decide: $3 a coordinator's, or $4 the birth site's. Two at once take
-- turns on the infant.
select 1
  from infants i
  join births b on b.infant_id = i.id and b.superseded_at is null
 where i.id = $1 and ($3 or b.site_id = $4)
   and exists (
     select from submission_rows r join held_rows h using (submission_id, row_number)
      where r.infant_id = i.id and r.outcome = 'held' and h.site_id = $2 and h.resolution is null and h.reason = 'awaits_confirmation')
   for no key update of i
