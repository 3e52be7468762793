-- What is known of infants by the registry's ids: those the viewer may see.
select b.infant_id, b.born_on, b.sex, b.birth_order::text, b.mother_given_name, b.mother_family_name, b.mother_born_on,
       (select value from infant_identifiers i where i.infant_id = b.infant_id and i.kind = 'record_number'
           and i.site_id = @viewer_site and i.superseded_at is null order by i.id limit 1),
       (select value from infant_identifiers i where i.infant_id = b.infant_id and i.kind = 'card_id'
           and i.superseded_at is null order by i.id limit 1)
  from births b where b.infant_id = any(@ids) and b.superseded_at is null and {visible}
