-- What is shown of the infants that are found (FindInfants), in their order.
select f.infant_id, b.born_on, b.infant_given_name, b.infant_family_name, b.mother_given_name, b.mother_family_name, bs.name, number.value,
       matched.numbers, coalesce(b.contact_phone_key = any(@phones), false) or exists (
         select from family_contacts c
          where c.infant_id = f.infant_id and c.superseded_at is null
            and (c.contact_phone_key = any(@phones) or c.other_phone_key = any(@phones))), st.screening, st.next_step, st.next_due_on
  from unnest(@infants) with ordinality f (infant_id, n)
  join births b on b.infant_id = f.infant_id and b.superseded_at is null
  join sites bs on bs.id = b.site_id
  left join infant_status st on st.infant_id = f.infant_id
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = f.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = @own_site) desc, (i.site_id = b.site_id) desc, i.recorded_at, i.id limit 1) number on true
  left join lateral (
    select array_agg(distinct i.value) as numbers from infant_identifiers i
     where i.infant_id = f.infant_id and i.superseded_at is null and i.value = any(@numbers)) matched on true
 where {visible}
 order by f.n;
