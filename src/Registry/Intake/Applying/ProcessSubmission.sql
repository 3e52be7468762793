-- The progress of a submission: the outcomes of a chunk's rows, committed with their facts.
update submissions
   set state = 'processing', rows_done = rows_done + $2, accepted = accepted + $3, unchanged = unchanged + $4, rejected = rejected + $5,
       held = held + $6, still_waiting = still_waiting + $7
 where id = $1
