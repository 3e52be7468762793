-- In how many records each telephone or address stands now, of those the viewer sees ({visible}; row security beneath lets no other through).
-- Not counted beyond @most: a probe of an index each, however many share it.
select k.key, (
    select count(distinct r.infant_id)::int from (
      (select infant_id from births where contact_phone_key = k.key and superseded_at is null limit @most)
      union all
      (select infant_id from births where contact_email_key = k.key and superseded_at is null limit @most)
      union all
      (select infant_id from family_contacts where contact_phone_key = k.key and superseded_at is null limit @most)
      union all
      (select infant_id from family_contacts where other_phone_key = k.key and superseded_at is null limit @most)) r
     where {visible})
  from unnest(@keys) k (key)
