-- Run once by the migration Erasure and never edited since.

-- True only inside erase_infant: its owner's rights, and the setting it makes for the length of a statement.
create function is_erasing(guarded oid) returns boolean language sql stable as $$
  select coalesce(current_setting('registry.erasing', true), '') = 'on'
     and current_user = (select pg_get_userbyid(c.relowner) from pg_class c where c.oid = guarded)
$$;

-- Erasure may empty what a person is known by; the trail, its digests and what people were stay closed to it too.
create or replace function refuse_change() returns trigger language plpgsql as $$
begin
  if tg_op <> 'TRUNCATE' and tg_table_name in ('submission_chunks', 'row_changes', 'claim_decisions') and is_erasing(tg_relid) then
    return null;
  end if;
  raise exception '% is append-only: % refused', tg_table_name, tg_op using errcode = 'integrity_constraint_violation';
end $$;

create or replace function refuse_fact_edit() returns trigger language plpgsql as $$
begin
  if to_jsonb(new) - 'superseded_at' is distinct from to_jsonb(old) - 'superseded_at' and not is_erasing(tg_relid) then
    raise exception 'facts in % are never edited: add a new one and supersede the old', tg_table_name
      using errcode = 'integrity_constraint_violation';
  end if;
  return new;
end $$;

-- Raw bytes go with whom they name, and those of a file refused as a whole seven days later.
create or replace function refuse_kept_bytes() returns trigger language plpgsql as $$
begin
  if not is_erasing(tg_relid) and not exists (select from submissions
      where id = old.submission_id and state = 'refused' and finished_at < now() - interval '7 days') then
    raise exception 'submission_chunks is append-only: DELETE refused' using errcode = 'integrity_constraint_violation';
  end if;
  return old;
end $$;

-- Removes the values of the infant a request names. Whoever asked may not do it. Columns that are not listed as kept are emptied; dates
-- move together, so that the birth falls on the first of its month. Kept rows are encrypted: the program says by which keys those that
-- name the infant are found, a record number's (with its site) or a card's (without), and a birth's.
create function erase_infant(
  request uuid, person uuid, keys text[] default '{}', sites uuid[] default '{}', births_keys text[] default '{}')
  returns void language plpgsql security definer set search_path = public, pg_temp as $$
declare
  kept constant text[] := array['id', 'infant_id', 'site_id', 'recorded_at', 'superseded_at', 'submission_id', 'row_number', 'place', 'sex',
    'plurality', 'birth_order', 'gestation_weeks', 'birth_weight_grams', 'county', 'insurance', 'language', 'race_ethnicity',
    'maternal_education', 'ear', 'method', 'outcome', 'reason', 'stage', 'instrument', 'probe', 'right_finding', 'left_finding',
    'right_degree', 'left_degree', 'provisional', 'permanent', 'kind', 'step', 'raises_risk', 'to_site_id'];
  gone constant text[] := array['mother_born_on'];
  erased uuid;
  days int;
  alone boolean;
  fact_table text;
  changes text;
begin
  update erasure_requests set decision = 'erased', decided_at = now(), decided_by = person
   where id = request and decision is null and asked_by <> person and person is not null returning infant_id into erased;
  if erased is null then
    raise exception 'there is no such request, or it needs another person' using errcode = 'insufficient_privilege';
  end if;
  perform from infants where id = erased for no key update;

  -- A birth date and a mother name nobody else: no twin.
  select not exists (select from births b join births o on o.infant_id <> erased and o.born_on = b.born_on
      and (o.mother_family_key = b.mother_family_key or o.mother_born_on = b.mother_born_on) where b.infant_id = erased) into alone;

  -- Every row that is about the infant, or names it though it was never applied.
  create temp table named on commit drop as
    select r.submission_id, r.row_number from submission_rows r where r.infant_id = erased
    union
    select r.submission_id, r.row_number
      from unnest(keys, sites) k (key, site) join submission_rows r on r.identifier_keys @> array[k.key]
      join submissions s on s.id = r.submission_id and (k.site is null or k.site = s.site_id)
    union
    select r.submission_id, r.row_number from submission_rows r
     where alone and r.identifier_keys && births_keys and r.infant_id is null
    union
    select h.submission_id, h.row_number from held_rows h join infant_identifiers i on i.infant_id = erased
        and (i.kind = 'card_id' and i.value = h.card_id
          or i.kind = 'record_number' and i.site_id = h.site_id and i.value in (h.record_number, h.prior_record_number))
    union
    select h.submission_id, h.row_number from held_rows h join births b on b.infant_id = erased and h.birth_date = b.born_on
        and (h.mother_family_key = b.mother_family_key or h.mother_born_on = b.mother_born_on)
     where alone and coalesce(h.infant_id, erased) = erased;
  if exists (select from pg_temp.named n join submissions s on s.id = n.submission_id where s.state in ('received', 'processing')) then
    raise exception 'a submission about the infant is being processed' using errcode = 'object_in_use';
  end if;
  perform set_config('registry.erasing', 'on', true);

  select coalesce((date_trunc('month', born_on)::date - born_on), 0) into days
    from births where infant_id = erased order by superseded_at is null desc, recorded_at desc limit 1;
  days := coalesce(days, 0);
  for fact_table in
    select c.relname from pg_class c join pg_trigger t on t.tgrelid = c.oid where t.tgname = c.relname || '_no_edit' and c.relname <> 'corrections'
  loop
    select string_agg(case
        when a.attname = 'value' and fact_table = 'infant_identifiers' then 'value = ''erased-'' || id'
        when a.attname = any(gone) then format('%I = null', a.attname)
        when a.atttypid in ('date'::regtype, 'timestamp'::regtype) then format('%I = %I + %s * interval ''1 day''', a.attname, a.attname, days)
        when a.atttypid = 'boolean'::regtype and a.attnotnull then format('%I = false', a.attname)
        else format('%I = null', a.attname)
      end, ', ') into changes
      from pg_attribute a
     where a.attrelid = fact_table::regclass and a.attnum > 0 and not a.attisdropped and a.attgenerated = '' and a.attname <> all(kept);
    if changes is not null then
      execute format('update %I set %s where infant_id = $1', fact_table, changes) using erased;
    end if;
  end loop;

  -- What rows said, and the files they came in.
  update held_rows h set record_number = null, prior_record_number = null, card_id = null, birth_date = null, mother_family_key = null,
      mother_born_on = null
    from pg_temp.named n where n.submission_id = h.submission_id and n.row_number = h.row_number;
  update row_changes c set before = jsonb_build_object('row', (c.before -> 'row')
      || '{"content": null, "content_key": null, "identifier_keys": null}', 'held',
      case when jsonb_typeof(c.before -> 'held') = 'object' then (c.before -> 'held')
        || '{"record_number": null, "prior_record_number": null, "card_id": null, "birth_date": null, "mother_family_key": null, "mother_born_on": null}'::jsonb
        else 'null'::jsonb end)
    from pg_temp.named n where n.submission_id = c.submission_id and n.row_number = c.row_number;
  update bulk_decisions b set from_value = null, to_value = null
    from bulk_rows l join pg_temp.named n on n.submission_id = l.submission_id and n.row_number = l.row_number
   where l.bulk_id = b.id and b.field is not null;
  delete from submission_chunks where submission_id in (select submission_id from pg_temp.named);
  update submissions set file_name = null, sheet = null where id in (select submission_id from pg_temp.named);
  update claim_decisions set reason = null where infant_id = erased;
  update submission_rows r set content = null, content_key = null, identifier_keys = null from pg_temp.named n where n.submission_id = r.submission_id and n.row_number = r.row_number;
  drop table pg_temp.named;

  -- What was derived for other days is derived again when it is asked for.
  delete from infant_status_snapshot;
  delete from status_snapshots;
  perform set_config('registry.erasing', 'off', true);
end $$;
revoke all on function erase_infant from public;
