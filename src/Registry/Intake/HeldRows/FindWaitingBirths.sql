-- Other waiting rows that name the same record number of the same site, or the same card, oldest first; without $6 only of the same site.
select h.submission_id, h.row_number, h.held_at, h.kind = 'birth'
  from (
    select submission_id, row_number from held_rows where resolution is null and site_id = $3 and record_number = $4
    union
    select submission_id, row_number from held_rows where resolution is null and card_id = $5 and ($6 or site_id = $3)) same
  join held_rows h using (submission_id, row_number)
 where (h.submission_id, h.row_number) <> ($1, $2)
 order by h.held_at, h.submission_id, h.row_number limit 1000
