-- Infants that one of these record numbers (of the site that gave it) or card ids leads to: for a card id the site is known to the infant,
-- or the row states two details that agree (DecideMatch asks again). With $7 all that carry one. One whose birth was retracted too, without
-- saying anything of it. The last column: the stated sites that are known to the infant.
-- "offset 0" keeps each lookup one probe of an index per stated key, whatever the planner believes about a growing table.
with stated as (
  select * from unnest($1::uuid[], $2::text[], $3::text[], $4::date[], $5::text[], $6::date[])
    as stated (site_id, record_number, card_id, born_on, family, mother_born_on)
),
hits as (
  select s.site_id, i.infant_id, true as known
    from stated s
   cross join lateral (
     select infant_id from infant_identifiers
      where site_id = s.site_id and value = s.record_number and kind = 'record_number' and superseded_at is null offset 0) i
  union
  select s.site_id, i.infant_id, l.known
    from stated s
   cross join lateral (
     select infant_id from infant_identifiers where value = s.card_id and kind = 'card_id' and superseded_at is null offset 0) i
   cross join lateral (select {known} as known offset 0) l
   where l.known or $7 or (
     select 1 from births b
      where b.infant_id = i.infant_id and b.superseded_at is null and b.born_on = s.born_on
        and (b.mother_family_key = s.family or b.mother_born_on = s.mother_born_on) limit 1) is not null
),
found as (
  select infant_id, coalesce(array_agg(site_id) filter (where known), '{}') as sites from hits group by infant_id
)
select found.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
  array(select i.kind from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id),
  array(select i.value from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id),
  array(select i.site_id from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id),
  array(select exists (select from held_rows h where h.submission_id = i.submission_id and h.row_number = i.row_number and h.leans_on is not null)
          from infant_identifiers i where i.infant_id = found.infant_id and i.superseded_at is null order by i.id),
  found.sites
  from found
  left join lateral (select * from births where births.infant_id = found.infant_id and births.superseded_at is null offset 0) b on true
