-- The rows as they are kept.
select submission_id, row_number, site_id, received_at, content::text, line, problems::text from waiting order by ordinal
