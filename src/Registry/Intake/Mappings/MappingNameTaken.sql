select exists (select from in_force where site_id = $1 and lower(name) = lower($2) and mapping_id <> $3)
