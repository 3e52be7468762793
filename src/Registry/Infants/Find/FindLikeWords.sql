-- Words of names the typed ones may have been meant for, the likeliest first: one slip of a finger away (two in a long word), of the same
-- sound, or beginning with it.
select t.n::int, c.word
  from unnest(@words::text[]) with ordinality t (word, n)
 cross join lateral (
   select array_agg(distinct two) as slips
     from unnest(word_variants(t.word)) one,
          unnest(case when length(t.word) > 6 then word_variants(one) else array[one] end) two) v
 cross join lateral (
   select s.word, d.distance
     from (
       select word from search_words where variants && v.slips
       union
       select word from search_words where sound = word_sound(t.word)
       union
       (select word from search_words
         where length(t.word) > 2 and word > t.word and word < t.word || chr(65535) order by word limit 30)) s
    cross join lateral (
      select case when starts_with(s.word, t.word) then 1 else levenshtein_less_equal(s.word, t.word, 4) end as distance) d
    where s.word <> t.word and d.distance <= case when length(t.word) < 4 then 1 when length(t.word) < 6 then 2 when length(t.word) < 7 then 3 else 4 end
    order by d.distance, s.word
    limit 40) c
 order by t.n, c.distance, c.word;
