-- Does any row wait, or lean on details? Two looks into an index.
select exists (select from held_rows where resolution is null) or exists (select from held_rows where leans_on is not null)
