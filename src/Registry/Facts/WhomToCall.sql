-- What was said of the family of the infant {infant} and still stands, for WhomToCall; null where nothing was.
left join lateral (
  select jsonb_agg(jsonb_build_object('kind', f.kind, 'on', f.stated_on, 'at', f.recorded_at, 'name', f.person_name,
           'phone', f.contact_phone, 'language', f.language, 'custody', f.holds_custody, 'told', f.may_be_told) order by f.row_number)::text as said
    from family_contacts f where f.infant_id = {infant} and f.superseded_at is null) family on true
