select count(*) filter (where outcome = 'held')::int, count(*) filter (where outcome = 'rejected')::int from waiting
