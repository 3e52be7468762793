-- The row has had its turn in a bulk decision, by the change just remembered.
update bulk_rows b
   set state = 'done', reason = null,
       change_id = (select max(c.id) from row_changes c where c.submission_id = $1 and c.row_number = $2 and c.bulk_id = $3)
 where b.bulk_id = $3 and b.submission_id = $1 and b.row_number = $2
