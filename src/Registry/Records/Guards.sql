-- What the database itself refuses, whoever asks. Run once by the first migration and never edited since: a later table's guards are
-- in the migration that adds the table.

create function refuse_change() returns trigger language plpgsql as $$
begin
  raise exception '% is append-only: % refused', tg_table_name, tg_op using errcode = 'integrity_constraint_violation';
end $$;

-- The raw submission and the access trail are immutable.
create trigger submission_chunks_append_only before update or delete or truncate on submission_chunks
  for each statement execute function refuse_change();
create trigger access_records_append_only before update or delete or truncate on access_records
  for each statement execute function refuse_change();

-- A fact is never edited: only the moment it stopped being held true may be set, once (or cleared by an undo), and nothing is deleted.
create function refuse_fact_edit() returns trigger language plpgsql as $$
begin
  if to_jsonb(new) - 'superseded_at' is distinct from to_jsonb(old) - 'superseded_at' then
    raise exception 'facts in % are never edited: add a new one and supersede the old', tg_table_name
      using errcode = 'integrity_constraint_violation';
  end if;
  return new;
end $$;

do $$
declare fact_table text;
begin
  foreach fact_table in array array['infant_identifiers', 'births', 'screenings', 'diagnoses', 'interventions', 'deaths', 'moves',
    'transfers', 'refusals', 'risks', 'contacts', 'readmissions', 'medical_delays']
  loop
    execute format('create trigger %I before update on %I for each row execute function refuse_fact_edit()', fact_table || '_no_edit', fact_table);
    execute format('create trigger %I before delete or truncate on %I for each statement execute function refuse_change()', fact_table || '_no_delete', fact_table);
  end loop;
end $$;

-- Statuses computed for another day than today. Unlogged: they can be computed again at any time, and after a crash both are empty.
create unlogged table status_snapshots (
  id uuid primary key,
  as_of date not null,
  known_at timestamptz not null,
  policy_version text not null,
  computed_at timestamptz not null,
  used_at timestamptz not null,
  complete boolean not null
);
create unique index on status_snapshots (as_of, known_at, policy_version, id);
create unlogged table infant_status_snapshot (like infant_status, snapshot_id uuid not null);
create index on infant_status_snapshot (snapshot_id, born_on);
create index on infant_status_snapshot (snapshot_id, infant_id);
