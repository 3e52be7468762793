-- A row that was kept whole, and how it stands.
select r.submission_id, r.row_number, s.site_id, s.received_at, r.content, r.line, r.problems::text,
       site.name, r.outcome, h.reason, h.resolved_at, r.infant_id, r.discarded_at is not null as discarded,
       h.resolution = 'applied' and h.resolved_by is null as settled_itself, r.kind,
       (select concat(p ->> 'submission', '/rows/', p ->> 'row') from jsonb_array_elements(r.problems) p
         where p ->> 'submission' is not null limit 1) as sent_again_as
  from submission_rows r
  join submissions s on s.id = r.submission_id
  join sites site on site.id = s.site_id
  left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
 where r.submission_id = $1 and r.row_number = $2 and r.content is not null
