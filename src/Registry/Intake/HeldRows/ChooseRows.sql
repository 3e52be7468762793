-- Puts waiting rows together: those ticked, or the oldest. Births come first: what rests on them follows.
insert into bulk_rows (bulk_id, submission_id, row_number, ordinal, state, seen)
select @bulk, c.submission_id, c.row_number,
       row_number() over (order by c.kind is distinct from 'birth', c.since, c.submission_id, c.row_number), 'chosen',
       coalesce((select max(l.id) from row_changes l where l.submission_id = c.submission_id and l.row_number = c.row_number), 0)
  from (select * from waiting w
         where @ids::uuid[] is null or (w.submission_id, w.row_number) in (select * from unnest(@ids::uuid[], @rows::int[]))
         order by w.since, w.submission_id, w.row_number limit @most) c
