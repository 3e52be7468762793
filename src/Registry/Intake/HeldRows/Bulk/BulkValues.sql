-- What a column states in them (empty: nothing), most first.
select coalesce(content ->> $2, ''), count(*)::int from waiting group by 1 order by 2 desc, 1 limit $3
