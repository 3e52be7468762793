-- Infants born on a stated day whose mother might be the stated one: two of family name, given name and birth date agree,
-- or one does and the others are not stated. DecideMatch looks at no other; this only keeps the rest away.
-- "offset 0" keeps each lookup one probe of an index per stated key, whatever the planner believes about a growing table.
with stated as (
  select * from unnest($1::date[], $2::text[], $3::text[], $4::date[]) as stated (born_on, family, given, mother_born_on)
),
found as (
  select b.infant_id
    from stated s
   cross join lateral (
     select infant_id, mother_given_key, mother_born_on from births
      where born_on = s.born_on and mother_family_key = s.family and superseded_at is null offset 0) b
   where b.mother_given_key = s.given or b.mother_born_on = s.mother_born_on
      or ((b.mother_given_key is null or s.given is null) and (b.mother_born_on is null or s.mother_born_on is null))
  union
  select b.infant_id
    from stated s
   cross join lateral (
     select infant_id, mother_given_key, mother_family_key from births
      where born_on = s.born_on and mother_born_on = s.mother_born_on and superseded_at is null offset 0) b
   where b.mother_given_key = s.given
      or ((b.mother_family_key is null or s.family is null) and (b.mother_given_key is null or s.given is null))
)
select b.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
  array(select i.kind from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.value from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.site_id from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select exists (select from held_rows h where h.submission_id = i.submission_id and h.row_number = i.row_number and h.leans_on is not null)
          from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id)
  from found
 cross join lateral (select * from births where births.infant_id = found.infant_id and births.superseded_at is null offset 0) b
