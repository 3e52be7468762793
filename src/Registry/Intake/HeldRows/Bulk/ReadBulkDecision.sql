select b.id, b.site_id, b.chosen_at, b.chosen_by, b.kind, b.decided_at, b.decided_by, b.field, b.from_value, b.to_value, b.infant_id,
       b.undo_asked_at, b.undo_asked_by, p.display_name
  from bulk_decisions b left join people p on p.id = b.decided_by
 where b.id = $1
