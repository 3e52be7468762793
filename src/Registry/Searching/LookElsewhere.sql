-- Infants that may be the same child as @infant or of its family, among those the viewer sees ({visible}). Each branch is one probe of an
-- index ("offset 0" keeps it so), so the cost follows the family and not the region.
with me as (
  select born_on, mother_family_key, mother_given_key, mother_born_on from births where infant_id = @infant and superseded_at is null
), phones as (
  -- Former numbers too: a sibling may still have one. What many records share speaks for no family.
  select p.key
    from (select distinct contact_phone_key as key from births where infant_id = @infant and contact_phone_key is not null) p
   where (select count(*) from (
           select from births where contact_phone_key = p.key and superseded_at is null limit @most_sharers + 1) s) <= @most_sharers
), near as (
  select b.infant_id from me cross join lateral (
    select infant_id from births
     where born_on = me.born_on and mother_family_key = me.mother_family_key and superseded_at is null offset 0) b
  union
  select b.infant_id from me cross join lateral (
    select infant_id from births
     where born_on = me.born_on and mother_born_on = me.mother_born_on and superseded_at is null offset 0) b
  union
  select b.infant_id from me cross join lateral (
    select infant_id from births
     where mother_born_on = me.mother_born_on and mother_given_key = me.mother_given_key and superseded_at is null offset 0) b
  union
  select b.infant_id from phones cross join lateral (
    select infant_id from births where contact_phone_key = phones.key and superseded_at is null offset 0) b
  union
  select c.infant_id
    from (select value from infant_identifiers where infant_id = @infant and kind = 'card_id' and superseded_at is null offset 0) own
   cross join lateral (
     select infant_id from infant_identifiers where value = own.value and kind = 'card_id' and superseded_at is null offset 0) c
)
select b.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
       b.infant_given_name, b.infant_family_name, b.mother_given_name, b.mother_family_name, s.name,
       exists (select from infant_identifiers o join infant_identifiers i on i.value = o.value and i.kind = 'card_id' and i.superseded_at is null
                where o.infant_id = @infant and o.kind = 'card_id' and o.superseded_at is null and i.infant_id = b.infant_id),
       exists (select from phones where phones.key = b.contact_phone_key)
  from (select infant_id from near where infant_id <> @infant limit @most) n
  join births b on b.infant_id = n.infant_id and b.superseded_at is null
  join sites s on s.id = b.site_id
 where {visible};
