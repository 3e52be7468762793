insert into access_records (at, kind, person_id, site_key_id, action, handler, filter, infant_id, infant_count, infants, subject_id, note,
  address, hash)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
