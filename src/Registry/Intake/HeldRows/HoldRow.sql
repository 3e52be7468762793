-- The row waits, under what it says now.
insert into held_rows (submission_id, row_number, site_id, kind, reason, held_at, record_number, card_id, birth_date, mother_family_key, mother_born_on)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
on conflict (submission_id, row_number) do update
   set kind = excluded.kind, reason = excluded.reason, record_number = excluded.record_number, card_id = excluded.card_id,
       birth_date = excluded.birth_date, mother_family_key = excluded.mother_family_key, mother_born_on = excluded.mother_born_on,
       resolution = null, resolved_at = null, resolved_by = null
