-- The last decision about a row that was not taken back.
select c.id, c.at, c.before -> 'row' ->> 'outcome' from row_changes c
 where c.submission_id = $1 and c.row_number = $2 and c.kind <> 'taken_back' and not exists (select from row_changes u where u.takes_back = c.id)
 order by c.id desc limit 1
