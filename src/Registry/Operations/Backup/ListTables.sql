-- Every table that is kept, with the columns that are stored and the tables its rows refer to. Unlogged tables are computed again.
select quote_ident(c.relname),
       (select array_agg(quote_ident(a.attname) order by a.attnum)
          from pg_attribute a where a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped and a.attgenerated = ''),
       (select coalesce(array_agg(distinct quote_ident(r.relname)), '{}')
          from pg_constraint f join pg_class r on r.oid = f.confrelid
         where f.conrelid = c.oid and f.contype = 'f' and f.confrelid <> c.oid)
  from pg_class c join pg_namespace n on n.oid = c.relnamespace
 where n.nspname = 'public' and c.relkind = 'r' and c.relpersistence = 'p' and c.relname <> '__EFMigrationsHistory'
 order by c.relname
