-- What a person made of a row. A discarded one says so among its problems; any other decision leaves none.
update submission_rows
   set outcome = $3, infant_id = $4, kind = coalesce($5, kind), content = coalesce($6, content),
       content_key = coalesce($10, content_key), identifier_keys = coalesce($11, identifier_keys),
       problems = case when $7 then coalesce(problems, '[]') || jsonb_build_array(jsonb_build_object('field', null, 'reason', $8)) end,
       discarded_at = case when $7 then $9 end
 where submission_id = $1 and row_number = $2
