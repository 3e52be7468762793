-- Rows that wait and may be about @infant: they say so, or name its card, its birth date with the mother's family name, or both birth dates.
-- A probe of an index each.
with me as (
  select born_on, mother_family_key, mother_born_on from births where infant_id = @infant and superseded_at is null
), near as (
  select submission_id, row_number from held_rows where infant_id = @infant and resolution is null
  union
  select h.submission_id, h.row_number from me join held_rows h
      on h.birth_date = me.born_on and h.mother_family_key = me.mother_family_key and h.resolution is null
  union
  select h.submission_id, h.row_number from me join held_rows h
      on h.birth_date = me.born_on and h.mother_born_on = me.mother_born_on and h.resolution is null
  union
  select h.submission_id, h.row_number from infant_identifiers i join held_rows h on h.card_id = i.value and h.resolution is null
   where i.infant_id = @infant and i.kind = 'card_id' and i.superseded_at is null
)
select h.submission_id, h.row_number, s.name, h.kind, h.held_at
  from near join held_rows h using (submission_id, row_number) join sites s on s.id = h.site_id
 order by h.held_at desc
 limit @most;
