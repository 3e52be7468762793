-- Joined to statuses s: a row for each of the three milestones.
cross join lateral (values
  ('screened', s.screened_state, s.screened_deadline_on),
  ('diagnosed', s.diagnosed_state, s.diagnosed_deadline_on),
  ('enrolled', s.enrolled_state, s.enrolled_deadline_on)) m(kind, state, deadline_on)
