-- What a submission's rows recorded of some infants that is a resource of its own.
select row_number, id from screenings where infant_id = any($1) and submission_id = $2
union all
select row_number, id from risks where infant_id = any($1) and submission_id = $2
union all
select row_number, id from family_contacts where infant_id = any($1) and submission_id = $2
union all
select row_number, id from care where infant_id = any($1) and submission_id = $2
