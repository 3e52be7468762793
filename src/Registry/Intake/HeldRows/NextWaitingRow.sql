-- The oldest other one.
select submission_id, row_number from waiting
 where (submission_id, row_number) <> (@except, @row) order by since, submission_id, row_number limit 1
