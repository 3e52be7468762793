-- The address of the mother of a birth b: what was said of her last, else the birth's own. Of the same day what was recorded last holds, as
-- in Facts/FamilyNow. Where it is kept says how it is decrypted.
select a.email, a.email_key, a.kept_in
  from (
    select c.contact_email as email, c.contact_email_key as email_key, 'family_contacts.contact_email' as kept_in,
           coalesce(c.stated_on, (c.recorded_at at time zone 'UTC')::date) as said_on, c.recorded_at, c.row_number
      from family_contacts c
     where c.infant_id = b.infant_id and c.kind = 'mother' and c.superseded_at is null and c.contact_email <> ''
    union all
    select b.contact_email, b.contact_email_key, 'births.contact_email', null, null, null where b.contact_email <> '') a
 order by a.said_on desc nulls last, a.recorded_at desc, a.row_number desc
 limit 1
