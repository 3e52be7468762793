-- Waiting rows that state one of the given identifiers or birth dates, oldest submission first.
select h.submission_id, h.row_number, h.site_id, s.received_at, r.content::text, r.line
  from held_rows h
  join submissions s on s.id = h.submission_id
  join submission_rows r on r.submission_id = h.submission_id and r.row_number = h.row_number
 where h.resolution is null and h.reason = 'no_such_infant'
   and (h.submission_id, h.row_number) in (
     select w.submission_id, w.row_number
       from unnest($1::uuid[], $2::text[]) as known (site_id, value)
       join held_rows w on w.site_id = known.site_id and w.record_number = known.value
        and w.resolution is null and w.reason = 'no_such_infant'
     union
     select w.submission_id, w.row_number
       from held_rows w where w.card_id = any($3) and w.resolution is null and w.reason = 'no_such_infant'
     union
     select w.submission_id, w.row_number
       from held_rows w
      where w.birth_date = any($4) and w.resolution is null and w.reason = 'no_such_infant'
        and exists (
          select from births b
           where b.born_on = w.birth_date and b.superseded_at is null
             and (b.mother_family_key = w.mother_family_key or b.mother_born_on = w.mother_born_on)))
   and (h.submission_id, h.row_number) > ($5, $6)
 order by h.submission_id, h.row_number
 limit $7
   for update of h skip locked
