-- Infants a person chose.
select b.infant_id, b.born_on, b.mother_family_key, b.mother_given_key, b.mother_born_on, b.sex, b.plurality, b.birth_order,
  array(select i.kind from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.value from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select i.site_id from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id),
  array(select exists (select from held_rows h where h.submission_id = i.submission_id and h.row_number = i.row_number and h.leans_on is not null)
          from infant_identifiers i where i.infant_id = b.infant_id and i.superseded_at is null order by i.id)
  from births b where b.infant_id = any($1) and b.superseded_at is null
