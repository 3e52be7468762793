-- Asks for the whole to be taken back: once; again when that is through, for the rows that could not be taken back then.
update bulk_decisions set undo_asked_at = $2, undo_asked_by = $3
 where id = $1 and decided_at is not null and (undo_asked_at is null or (
   not exists (select from bulk_rows where bulk_id = $1 and (state = 'chosen' or (state = 'done' and reason is null)))
   and exists (select from bulk_rows where bulk_id = $1 and state = 'done')))
