-- The first policy of a new registry.
insert into policies (version, effective_from, document, recorded_at)
select $1, $2, $3::jsonb, $4 where not exists (select from policies)
