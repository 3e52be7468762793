-- A row that was kept whole, locked until the transaction ends, with what happened to it last.
select r.submission_id, r.row_number, s.site_id, s.received_at, r.content, r.line, r.problems::text,
       r.outcome, r.discarded_at is null and r.outcome in ('held', 'rejected') as waits, r.infant_id,
       last.id, last.kind, last.at, p.display_name,
       h.resolved_at, h.resolution = 'applied' and h.resolved_by is null as settled_itself,
       case when r.outcome = 'rejected' and last.kind is distinct from 'discarded' then r.discarded_at end as sent_again_at
  from submission_rows r
  join submissions s on s.id = r.submission_id
  left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
  left join lateral (select c.id, c.kind, c.at, c.person_id from row_changes c
                      where c.submission_id = r.submission_id and c.row_number = r.row_number order by c.id desc limit 1) last on true
  left join people p on p.id = last.person_id
 where r.submission_id = $1 and r.row_number = $2 and r.content is not null
   for update of r
