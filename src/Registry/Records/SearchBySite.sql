-- Run once by the migration SearchBySite and never edited since. From here on a word of an infant is kept once for each site that sees the
-- infant (SearchWords.sql: what the words of a name are), with the county by which case workers see it: a trigger of births keeps that before
-- (births_county_insert), and Access/InfantShown.sql where a site's county changes.

-- Keeps the words of the names of current births beside them: for the sites that see the infant and have none of its words yet. Who writes a
-- birth has locked its infant, and so has whoever shows it to one more site; the site that is shown it by this birth has its words by the
-- trigger below, which comes first. A word that nobody carries any more stays in search_words, where it leads to nobody, except when an infant
-- is erased: then whoever writes names waits. Planned anew each time: a plan that was made while the tables were small would walk through
-- them all.
create or replace function keep_infant_words() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  if is_erasing('births'::regclass) then
    perform pg_advisory_xact_lock(hashtextextended('', 59));
  else
    perform pg_advisory_xact_lock_shared(hashtextextended('', 59));
  end if;
  if tg_op = 'UPDATE' then
    execute 'delete from infant_words w using changed c where w.infant_id = c.infant_id';
  end if;
  execute $words$
    insert into infant_words (infant_id, site_id, county_key, word, born_on)
    select distinct b.infant_id, s.site_id, k.shown_to, w.word, b.born_on
      from (select distinct infant_id from changed) c
      join births b on b.infant_id = c.infant_id and b.superseded_at is null
      join infant_sites s on s.infant_id = b.infant_id
        and not exists (select from infant_words o where o.infant_id = s.infant_id and o.site_id = s.site_id)
      left join infant_shown k on k.infant_id = b.infant_id and k.shown_to like 'county:%'
     cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
     cross join lateral search_words_of(n.name) w (word)
        on conflict do nothing
    $words$;
  execute $words$
    insert into search_words (word, sound, variants)
    select a.word, word_sound(a.word), word_variants(a.word)
      from (select distinct w.word from changed c join infant_words w on w.infant_id = c.infant_id) a
     where not exists (select from search_words s where s.word = a.word)
     order by a.word
        on conflict do nothing
    $words$;
  return null;
end $$;
revoke all on function keep_infant_words() from public;

-- The words of an infant that one more site sees, or one fewer.
create function keep_words_of_sites() returns trigger
  language plpgsql security definer set search_path = public, pg_temp as $$
begin
  if not exists (select from changed) then
    return null;
  end if;
  if tg_op = 'DELETE' then
    execute 'delete from infant_words w using changed c where w.infant_id = c.infant_id and w.site_id = c.site_id';
  else
    execute $words$
      insert into infant_words (infant_id, site_id, county_key, word, born_on)
      select distinct b.infant_id, c.site_id, k.shown_to, w.word, b.born_on
        from changed c
        join births b on b.infant_id = c.infant_id and b.superseded_at is null
        left join infant_shown k on k.infant_id = b.infant_id and k.shown_to like 'county:%'
       cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
       cross join lateral search_words_of(n.name) w (word)
          on conflict do nothing
      $words$;
  end if;
  return null;
end $$;
revoke all on function keep_words_of_sites() from public;
create trigger infant_sites_words_insert after insert on infant_sites referencing new table as changed
  for each statement execute function keep_words_of_sites();
create trigger infant_sites_words_delete after delete on infant_sites referencing old table as changed
  for each statement execute function keep_words_of_sites();

-- What is there by now.
insert into infant_words (infant_id, site_id, county_key, word, born_on)
select distinct b.infant_id, s.site_id, k.shown_to, w.word, b.born_on
  from births b
  join infant_sites s on s.infant_id = b.infant_id
  left join infant_shown k on k.infant_id = b.infant_id and k.shown_to like 'county:%'
 cross join lateral unnest(array[b.mother_given_name, b.mother_family_name, b.infant_given_name, b.infant_family_name]) n (name)
 cross join lateral search_words_of(n.name) w (word)
 where b.superseded_at is null;
