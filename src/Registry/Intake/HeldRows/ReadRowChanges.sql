-- What persons did with a row, newest first, each with the row as it was before.
select c.id, c.kind, c.at, coalesce(p.display_name, ''), c.bulk_id, c.takes_back, c.before -> 'row' ->> 'content',
       case when c.kind = 'corrected' then c.before -> 'row' ->> 'problems' end
  from row_changes c left join people p on p.id = c.person_id
 where c.submission_id = $1 and c.row_number = $2 order by c.id desc
