-- The oldest submission that is not finished, how many there are, and the moment of the last backup.
select min(received_at), count(*)::int, (select max(taken_at) from backups)
  from submissions where state in ('received', 'processing')
