-- And waits again as it did before the change ($3), if it did; whether it waits now is deleted before.
insert into held_rows select b.* from row_changes c, jsonb_populate_record(null::held_rows, c.before -> 'held') b
 where c.id = $3 and c.submission_id = $1 and c.row_number = $2 and jsonb_typeof(c.before -> 'held') = 'object'
