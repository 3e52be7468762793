-- A site became an early-intervention program, or is none any more: what opens by its kind is drawn anew. Who writes facts that ask for the
-- kind holds the site (for share) until they are written.
create or replace function keep_infant_sites_by_kind() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  perform from infants
    where id in (select infant_id from infant_sites where site_id = new.id union {opens by kind}) order by id for no key update;
  delete from infant_sites s
   where s.site_id = new.id
     and not (
        {still sees});
  insert into infant_sites (site_id, infant_id)
  select new.id, o.infant_id from ({opens by kind}) o
      on conflict do nothing;
  return null;
end $$;
revoke all on function keep_infant_sites_by_kind() from public;
create or replace trigger sites_infant_sites after update on sites
  for each row when (old.kind is distinct from new.kind) execute function keep_infant_sites_by_kind();
