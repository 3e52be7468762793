-- Joined to statuses s, as they stand on @today: a row for each figure of a status (StatusFigure).
cross join lateral (values
  ('screened', s.screened_state, s.screened_deadline_on < @today),
  ('diagnosed', s.diagnosed_state, s.diagnosed_deadline_on < @today),
  ('enrolled', s.enrolled_state, s.enrolled_deadline_on < @today),
  ('due', case when s.next_due_on < @today then 'overdue' when s.next_due_on <= @today + 7 then 'week' end, false),
  ('lost_how', nullif(s.loss, 'none'), false),
  ('lost_at', case when s.loss <> 'none' then s.lost_at end, false)) x (counted, state, closed)
