-- The role, whether it is a superuser, and of how many append-only tables it could change or delete rows.
select current_user::text, rolsuper,
       (select count(*)::int from unnest(array['access_records', 'submission_chunks', 'births', 'screenings', 'diagnoses', 'corrections']) t
         where to_regclass(t) is not null and (has_table_privilege(t, 'delete') or has_table_privilege(t, 'truncate')))
  from pg_roles where rolname = current_user
