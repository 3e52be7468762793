-- Keeps infant_sites beside the facts: a site that holds one sees the infant, and one whose last was closed no longer does. Who writes facts
-- of an infant has locked it, so no other transaction adds the fact that this one does not find.
create or replace function keep_infant_sites_by_{name}() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  {lock}
  if {may close} then
    delete from infant_sites s
     using (select distinct f.{column} as site_id, f.infant_id from {rows} f where {closed} and f.{column} is not null) c
     where s.site_id = c.site_id and s.infant_id = c.infant_id
       and not (
        {still sees});
  end if;
  insert into infant_sites (site_id, infant_id)
  select distinct f.{column}, f.infant_id from {rows} f where f.{column} is not null and {opens}
      on conflict do nothing;
  return null;
end $$;
revoke all on function keep_infant_sites_by_{name}() from public;
