-- Run once by the migration FindInfants and never edited since.

-- Sounds and distances of words. A trusted extension: the owner of the database may make it.
create extension if not exists fuzzystrmatch;

-- The words of a name as they are searched for: no marks, no case, split where a name is; Registry.Rules.Linkage.SearchWords is its twin.
create function search_words_of(name text) returns setof text language sql immutable parallel safe as $$
  select distinct left(w, 60) from regexp_split_to_table(
    replace(replace(replace(replace(translate(lower(
      regexp_replace(normalize(translate(name, '''’‘`´.', ''), NFKD), '[\u0300-\u036f]', '', 'g')),
      'øØłŁđĐðÐıİ', 'oollddddii'), 'ß', 'ss'), 'æ', 'ae'), 'œ', 'oe'), 'þ', 'th'),
    '[\s\u00a0\-‐-―,;:/\\()\[\]"“”_+&]+') w
   where w <> ''
$$;

-- A word and what is left of it when one letter is taken out. Two words that share one differ by one slip of a finger: a letter more, less or
-- other, or two in the wrong order.
create function word_variants(word text) returns text[] language sql immutable parallel safe as $$
  select array_agg(distinct v) from (
    select word as v
    union all
    select left(word, n - 1) || substr(word, n + 1) from generate_series(1, length(word)) n where length(word) > 2) every
$$;

-- How a word sounds; null where that says too little.
create function word_sound(word text) returns text language sql immutable parallel safe as $$
  select case when length(dmetaphone(word)) > 1 then dmetaphone(word) end
$$;

create index ix_search_words_variants on search_words using gin (variants);

-- Keeps the words of the names of current births beside them. Who writes a birth has locked its infant. A word that nobody carries any more
-- stays in search_words, where it leads to nobody, except when an infant is erased: then whoever writes names waits. Planned anew each time:
-- a plan that was made while the tables were small would walk through them all.
create function keep_infant_words() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
  if is_erasing('births'::regclass) then
    perform pg_advisory_xact_lock(hashtextextended('', 59));
  else
    perform pg_advisory_xact_lock_shared(hashtextextended('', 59));
  end if;
  if tg_op = 'UPDATE' then
    execute 'delete from infant_words w using changed c where w.infant_id = c.infant_id';
  end if;
  execute format($words$
    with added as (
      insert into infant_words (infant_id, word, born_on)
      select distinct b.infant_id, w.word, b.born_on
        from %s
       cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
       cross join lateral search_words_of(n.name) w (word)
       where b.superseded_at is null
          on conflict do nothing
      returning word)
    insert into search_words (word, sound, variants)
    select a.word, word_sound(a.word), word_variants(a.word)
      from (select distinct word from added) a
     where not exists (select from search_words s where s.word = a.word)
     order by a.word
        on conflict do nothing
    $words$, case tg_op when 'INSERT' then 'changed b'
      else '(select distinct infant_id from changed) c join births b on b.infant_id = c.infant_id' end);
  return null;
end $$;
revoke all on function keep_infant_words() from public;
create trigger births_words_insert after insert on births referencing new table as changed
  for each statement execute function keep_infant_words();
create trigger births_words_update after update on births referencing new table as changed
  for each statement execute function keep_infant_words();

-- Names that are erased leave the words too.
create function forget_words() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
  if is_erasing('births'::regclass) then
    perform pg_advisory_xact_lock(hashtextextended('', 59));
    delete from search_words s
     using before b
     cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
     cross join lateral search_words_of(n.name) w (word)
     where s.word = w.word and not exists (select from infant_words i where i.word = s.word);
  end if;
  return null;
end $$;
revoke all on function forget_words() from public;
create trigger births_words_update_forget after update on births referencing old table as before
  for each statement execute function forget_words();

-- What is there by now.
insert into infant_words (infant_id, word, born_on)
select distinct b.infant_id, w.word, b.born_on
  from births b
 cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
 cross join lateral search_words_of(n.name) w (word)
 where b.superseded_at is null;
insert into search_words (word, sound, variants)
select word, word_sound(word), word_variants(word) from (select distinct word from infant_words) w;
