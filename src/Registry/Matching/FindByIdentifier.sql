-- Infants that hold one of these record numbers (with the site they are unique in) or card ids.
with found as (
  select i.infant_id
    from unnest($1::uuid[], $2::text[]) as stated (site_id, value)
    join infant_identifiers i on i.site_id = stated.site_id and i.value = stated.value
      and i.kind = 'record_number' and i.superseded_at is null
  union
  select i.infant_id
    from unnest($3::text[]) as stated (value)
    join infant_identifiers i on i.value = stated.value and i.kind = 'card_id' and i.superseded_at is null
)
select b.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
  array(select i.kind from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.value from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.site_id from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id)
  from found join births b on b.infant_id = found.infant_id and b.superseded_at is null
