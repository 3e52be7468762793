-- A row that waits, or waits again after a person corrected it. Columns as in HoldRows.
insert into held_rows (
  submission_id, row_number, site_id, kind, reason, held_at, record_number, card_id, birth_date, mother_family_key, mother_born_on,
  infant_id, prior_record_number, amends)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
on conflict (submission_id, row_number) do update
   set kind = excluded.kind, reason = excluded.reason, record_number = excluded.record_number, card_id = excluded.card_id,
       birth_date = excluded.birth_date, mother_family_key = excluded.mother_family_key, mother_born_on = excluded.mother_born_on,
       infant_id = excluded.infant_id, prior_record_number = excluded.prior_record_number,
       amends = excluded.amends,
       resolution = null, resolved_at = null, resolved_by = null
