-- What a leaning row (alias h) was compared with, as a digest: the births of its day with its mother's family name or birth date, the
-- birth of its infant, and the cards and numbers that lead to them, but not because a leaning row says so. "{digest}" elsewhere.
(select coalesce(md5(string_agg(x.id::text, ',' order by x.id)), '-')
   from (
     select b.id from births b
      where b.born_on = h.birth_date and b.mother_family_key = h.mother_family_key and b.superseded_at is null
     union
     select b.id from births b
      where b.born_on = h.birth_date and b.mother_born_on = h.mother_born_on and b.superseded_at is null
     union
     select b.id from births b where b.infant_id = h.infant_id and b.superseded_at is null
     union
     select i.id from infant_identifiers i
      where i.superseded_at is null and (i.infant_id = h.infant_id or (i.kind = 'card_id' and i.value = h.card_id))
        and not exists (select from held_rows l
                         where l.submission_id = i.submission_id and l.row_number = i.row_number and l.leans_on is not null)) x)
