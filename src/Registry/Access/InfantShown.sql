-- Keeps infant_shown and site_heirs beside what they follow from, in the transaction that changes it.

-- The county of an infant, of the births that hold: where the mother lives, or else that of the birth site.
create or replace function refresh_infant_counties(infants uuid[]) returns void
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  delete from infant_shown where infant_id = any(infants) and shown_to like 'county:%';
  insert into infant_shown (shown_to, infant_id)
  select 'county:' || lower(btrim(coalesce(nullif(btrim(b.county), ''), s.county))), b.infant_id
    from births b join sites s on s.id = b.site_id
   where b.infant_id = any(infants) and b.superseded_at is null
      on conflict do nothing;
end $$;
revoke all on function refresh_infant_counties(uuid[]) from public;

create or replace function keep_counties_by_births() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  perform refresh_infant_counties(array(select distinct infant_id from changed));
  return null;
end $$;
revoke all on function keep_counties_by_births() from public;
create or replace trigger births_county_insert after insert on births referencing new table as changed
  for each statement execute function keep_counties_by_births();
create or replace trigger births_county_update after update on births referencing new table as changed
  for each statement execute function keep_counties_by_births();

create or replace function keep_counties_by_sites() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
declare moving uuid[] := array(
  select infant_id from births where site_id = new.id and superseded_at is null and nullif(btrim(county), '') is null);
begin
  -- Whose work is being stored meanwhile would keep the former county.
  perform from infants where id = any(moving) order by id for no key update;
  perform refresh_infant_counties(moving);
  update infant_words w set county_key = s.shown_to
    from infant_shown s where s.infant_id = w.infant_id and s.shown_to like 'county:%' and w.infant_id = any(moving);
  with moved as (
    select w.infant_id, w.tray, w.step, w.county_key as former, s.shown_to as county
      from infant_work w left join infant_shown s on s.infant_id = w.infant_id and s.shown_to like 'county:%'
     where w.infant_id = any(moving) and s.shown_to is distinct from w.county_key
  ), put as (
    update infant_work w set county_key = m.county from moved m where m.infant_id = w.infant_id
  )
  insert into work_counts (county_key, tray, step, infants)
  select county, tray, step, sum(n)
    from (select former as county, tray, step, -1 as n from moved union all select county, tray, step, 1 from moved) c
   where county is not null
   group by 1, 2, 3;
  return null;
end $$;
revoke all on function keep_counties_by_sites() from public;
create or replace trigger sites_county after update on sites
  for each row when (old.county is distinct from new.county) execute function keep_counties_by_sites();

-- An assignment and a glass show the infant while they last; when a glass runs out by itself, nobody is given its key any more.
create or replace function keep_infant_shown() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
declare
  key constant text := case tg_table_name when 'opened_glasses' then 'glass:' || new.id
    else 'case_worker:' || (to_jsonb(new) ->> 'person_id') end;
begin
  if new.ended_at is null then
    insert into infant_shown (shown_to, infant_id) values (key, new.infant_id) on conflict do nothing;
  else
    delete from infant_shown where shown_to = key and infant_id = new.infant_id;
  end if;
  return null;
end $$;
revoke all on function keep_infant_shown() from public;
create or replace trigger infant_assignments_shown after insert or update on infant_assignments
  for each row execute function keep_infant_shown();
create or replace trigger opened_glasses_shown after insert or update on opened_glasses
  for each row execute function keep_infant_shown();

-- Every site has its own infants, and those of closed sites that it continues. A change of one may lengthen or cut many lines: sites are
-- few, so all are drawn anew.
create or replace function keep_site_heirs() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  lock table site_heirs in share row exclusive mode;
  with recursive line (heir_id, site_id) as (
    select id, id from sites
    union
    select l.heir_id, s.id from line l join sites s on s.continued_by = l.site_id and s.closed_on is not null and not s.active
  ), gone as (
    delete from site_heirs h where not exists (select from line l where l.heir_id = h.heir_id and l.site_id = h.site_id)
  )
  insert into site_heirs (heir_id, site_id) select heir_id, site_id from line on conflict do nothing;
  return null;
end $$;
revoke all on function keep_site_heirs() from public;
create or replace trigger sites_heirs after insert or update or delete on sites
  for each statement execute function keep_site_heirs();
