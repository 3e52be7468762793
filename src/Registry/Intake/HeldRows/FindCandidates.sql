-- Infants by id, or by an identifier of any site, as a coordinator compares them with a row.
select b.infant_id, b.born_on, b.sex, b.plurality, b.birth_order, nullif(concat_ws(' ', b.infant_given_name, b.infant_family_name), ''),
  b.mother_given_name, b.mother_family_name, b.mother_born_on, s.name,
  array(select i.value || case i.kind when 'card_id' then ' (card)' else ' (' || o.name || ')' end
          from infant_identifiers i join sites o on o.id = i.site_id where i.infant_id = b.infant_id and i.superseded_at is null order by i.recorded_at, i.value)
  from births b join sites s on s.id = b.site_id
 where b.superseded_at is null
   and (b.infant_id = any($1) or b.infant_id in (select i.infant_id from infant_identifiers i where i.value = $2 and i.superseded_at is null))
 order by b.born_on, b.birth_order, b.infant_id
 limit 50
