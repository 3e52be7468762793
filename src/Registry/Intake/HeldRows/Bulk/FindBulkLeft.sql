-- Bulk decisions that are not through, or not taken back whole.
select b.id from bulk_decisions b where b.decided_at is not null and (
  exists (select from bulk_rows r where r.bulk_id = b.id and r.state = 'chosen')
  or (b.undo_asked_at is not null and exists (select from bulk_rows r where r.bulk_id = b.id and r.state = 'done' and r.reason is null)))
