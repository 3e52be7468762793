-- Appends to a row's history what is done with it, with the row as it was.
insert into row_changes (submission_id, row_number, kind, at, person_id, bulk_id, takes_back, before)
select r.submission_id, r.row_number, $3, $4, $5, $6, $7, jsonb_build_object('row', to_jsonb(r), 'held', (
         select to_jsonb(h) from held_rows h where h.submission_id = r.submission_id and h.row_number = r.row_number))
  from submission_rows r where r.submission_id = $1 and r.row_number = $2
