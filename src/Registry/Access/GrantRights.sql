-- States the rights of the writer and the reader anew, whatever they were: what is not granted here is refused. GrantRights.cs puts in the
-- names of the logins, the visibility rule, and the statements for each table.
revoke all on all tables in schema public from public, {writer}, {readers};
revoke all on all sequences in schema public from public, {writer}, {readers};
revoke create on schema public from public, {writer}, {readers};
grant usage on schema public to {writer}, {readers};
grant usage on all sequences in schema public to {writer};

-- The jobs' own tables.
grant usage on schema hangfire to {writer};
grant select, insert, update, delete on all tables in schema hangfire to {writer};
grant usage on all sequences in schema hangfire to {writer};

-- The infants of the viewer's site, and of its keys and of sites it continues. They read as their owner, and so beneath the row security that
-- asks them.
create or replace view infants_of_site as {of site};
create or replace view infants_otherwise as {otherwise};
create or replace view infants_one_by_one as {one by one};
grant select on infants_of_site, infants_otherwise, infants_one_by_one to {readers};

-- The detail of a test, or of an evaluation, is read with the rights of who reads it, not of who made the view.
alter view test_details set (security_invoker = true);
alter view evaluation_details set (security_invoker = true);
grant select on test_details, evaluation_details to {writer}, {readers};

-- Sums of tests, with what is not in them yet.
alter view all_screen_counts set (security_invoker = true);
grant select on all_screen_counts to {writer};

-- Whose words a fact is and since when: the site of its submission and the time, and nothing else of what was sent.
grant select (id, site_id, received_at) on submissions to {readers};

-- It asks by itself whether two people decided.
grant execute on function erase_infant to {writer};

-- Who reads which rows is stated below, and by nothing else.
do $$
declare p record;
begin
  for p in select policyname, tablename from pg_policies where schemaname = 'public' loop
    execute format('drop policy %I on %I', p.policyname, p.tablename);
  end loop;
end $$;

{who sees whom}

{tables}

drop view if exists seen_infants;
