-- Rows by outcome, kind and reason, most frequent first; a row with two problems counts under both.
select r.outcome, r.kind, case when r.outcome = 'held' then h.reason end, p ->> 'field', p ->> 'reason', count(*)::int
  from submission_rows r
  left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
  left join lateral jsonb_array_elements(r.problems) p on true
 where r.submission_id = $1 and r.outcome in ('rejected', 'held')
 group by 1, 2, 3, 4, 5 order by 6 desc, 1, 2, 3, 4, 5
