-- The infants that are found, and what is shown of them, in that order. Who is found FindInfants puts in, by what kind of terms there are and
-- never by what was typed.
with found as (select infant_id, row_number() over () as n from ({found}) ordered)
select f.infant_id, b.born_on, b.infant_given_name, b.infant_family_name, b.mother_given_name, b.mother_family_name, bs.name, number.value,
       matched.numbers, coalesce(b.contact_phone_key = any(@all_phones), false) or exists (
         select from family_contacts c
          where c.infant_id = f.infant_id and c.superseded_at is null
            and (c.contact_phone_key = any(@all_phones) or c.other_phone_key = any(@all_phones))), st.screening, st.next_step, st.next_due_on
  from found f
  join births b on b.infant_id = f.infant_id and b.superseded_at is null
  join sites bs on bs.id = b.site_id
  left join infant_status st on st.infant_id = f.infant_id
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = f.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = @own_site) desc, (i.site_id = b.site_id) desc, i.recorded_at, i.id limit 1) number on true
  left join lateral (
    select array_agg(distinct i.value) as numbers from infant_identifiers i
     where i.infant_id = f.infant_id and i.superseded_at is null and i.value = any(@all_numbers)) matched on true
 order by f.n;
