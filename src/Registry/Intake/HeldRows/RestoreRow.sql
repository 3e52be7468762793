-- The row is again as it was before a change ($3).
update submission_rows r set (kind, outcome, infant_id, problems, content, content_key, identifier_keys, discarded_at)
    = (select b.kind, b.outcome, b.infant_id, b.problems, b.content, b.content_key, b.identifier_keys, b.discarded_at
         from row_changes c, jsonb_populate_record(null::submission_rows, c.before -> 'row') b where c.id = $3)
 where r.submission_id = $1 and r.row_number = $2
