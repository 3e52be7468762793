-- Infants born on a stated day to a mother of a stated family name, or of a stated birth date.
with found as (
  select b.infant_id
    from unnest($1::date[], $2::text[]) as stated (born_on, family)
    join births b on b.born_on = stated.born_on and b.mother_family_key = stated.family and b.superseded_at is null
  union
  select b.infant_id
    from unnest($3::date[], $4::date[]) as stated (born_on, mother_born_on)
    join births b on b.born_on = stated.born_on and b.mother_born_on = stated.mother_born_on and b.superseded_at is null
)
select b.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
  array(select i.kind from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.value from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.site_id from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id)
  from found join births b on b.infant_id = found.infant_id and b.superseded_at is null
