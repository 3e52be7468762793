-- How many claims wait for the viewer, as ListClaims has them.
select count(distinct (h.site_id, r.infant_id))::int
  from held_rows h
  join submission_rows r using (submission_id, row_number)
  join births b on b.infant_id = r.infant_id and b.superseded_at is null
 where h.resolution is null and h.reason = 'awaits_confirmation'
   and ($1 or b.site_id = $2)
   and ($3::uuid is null or h.site_id = $3)
