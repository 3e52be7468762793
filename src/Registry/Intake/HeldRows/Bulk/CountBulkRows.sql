-- How many rows of a bulk decision stand alike, most first.
select b.state, r.outcome, b.reason, count(*)::int from bulk_rows b join submission_rows r using (submission_id, row_number)
 where b.bulk_id = $1 group by 1, 2, 3 order by 4 desc, 1, 2, 3
