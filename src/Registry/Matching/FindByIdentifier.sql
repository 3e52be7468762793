-- Infants that hold one of these record numbers (with the site they are unique in) or card ids; one whose birth was retracted too,
-- without saying anything of it.
-- "offset 0" keeps each lookup one probe of an index per stated key, whatever the planner believes about a growing table.
with found as (
  select i.infant_id
    from unnest($1::uuid[], $2::text[]) as stated (site_id, value)
   cross join lateral (
     select infant_id from infant_identifiers
      where site_id = stated.site_id and value = stated.value and kind = 'record_number' and superseded_at is null offset 0) i
  union
  select i.infant_id
    from unnest($3::text[]) as stated (value)
   cross join lateral (
     select infant_id from infant_identifiers where value = stated.value and kind = 'card_id' and superseded_at is null offset 0) i
)
select found.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
  array(select i.kind from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id),
  array(select i.value from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id),
  array(select i.site_id from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id)
  from found
  left join lateral (select * from births where births.infant_id = found.infant_id and births.superseded_at is null offset 0) b on true
