-- Does any row wait? One look into an index.
select exists (select from held_rows where resolution is null)
