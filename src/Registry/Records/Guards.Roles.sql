-- Run once by the migration CareRoles and never edited since.

-- What is there by now; migrate makes the triggers that keep it (Access/InfantShown.sql).
insert into site_heirs (heir_id, site_id)
with recursive line (heir_id, site_id) as (
  select id, id from sites
  union
  select l.heir_id, s.id from line l join sites s on s.continued_by = l.site_id and s.closed_on is not null and not s.active
)
select heir_id, site_id from line;
insert into infant_shown (shown_to, infant_id)
select distinct 'county:' || lower(btrim(coalesce(nullif(btrim(b.county), ''), s.county))), b.infant_id
  from births b join sites s on s.id = b.site_id where b.superseded_at is null;

-- Who was given an infant, and who opened a record they are not shown, stays as it was: only its end is added. Erasing an infant empties
-- the words somebody wrote about it.
create function refuse_edit_of_access() returns trigger language plpgsql as $$
declare
  may_change constant text[] := array['ended_at', 'ended_by', 'told_at'] || case
    when current_user = (select pg_get_userbyid(c.relowner) from pg_class c where c.oid = tg_relid) and to_jsonb(new) ->> 'words' = ''
    then array['words'] else '{}' end;
begin
  if to_jsonb(new) - may_change is distinct from to_jsonb(old) - may_change
      or old.ended_at is not null and (new.ended_at, new.ended_by) is distinct from (old.ended_at, old.ended_by) then
    raise exception '% keeps what was: only its end is added', tg_table_name using errcode = 'integrity_constraint_violation';
  end if;
  return new;
end $$;
create trigger infant_assignments_no_change before update on infant_assignments for each row execute function refuse_edit_of_access();
create trigger infant_assignments_no_delete before delete or truncate on infant_assignments
  for each statement execute function refuse_change();
create trigger opened_glasses_no_change before update on opened_glasses for each row execute function refuse_edit_of_access();
create trigger opened_glasses_no_delete before delete or truncate on opened_glasses for each statement execute function refuse_change();

create function empty_words_of_erased() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
  update opened_glasses set words = '' where infant_id = new.infant_id;
  return null;
end $$;
revoke all on function empty_words_of_erased() from public;
create trigger erasure_requests_empty_words after update on erasure_requests
  for each row when (new.decision = 'erased' and old.decision is null) execute function empty_words_of_erased();

-- Counties of a case worker are part of what a person is.
create or replace function keep_person_change() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare
  kept constant text[] := array['display_name', 'email', 'role', 'site_id', 'counties', 'disabled_at', 'two_factor_enabled'];
  before jsonb;
  after jsonb;
begin
  if tg_op <> 'INSERT' then
    select jsonb_object_agg(key, value) into before from jsonb_each(to_jsonb(old)) where key = any(kept);
  end if;
  if tg_op <> 'DELETE' then
    select jsonb_object_agg(key, value) into after from jsonb_each(to_jsonb(new)) where key = any(kept);
  end if;
  if before is distinct from after then
    insert into person_changes (person_id, at, change, before, after)
    values (coalesce(new.id, old.id), clock_timestamp(), lower(tg_op), before, after);
  end if;
  return null;
end $$;
