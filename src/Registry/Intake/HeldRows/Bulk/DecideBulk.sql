-- Decides, once.
update bulk_decisions
   set kind = $2, decided_at = $3, decided_by = $4, field = $5, from_value = $6, to_value = $7, infant_id = $8
 where id = $1 and decided_at is null
