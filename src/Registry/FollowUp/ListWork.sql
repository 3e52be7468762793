-- A page of the work list in its order; all of it when @limit is null. The placeholder is from and where (ListWork.From), never user input.
with page as (
  select w.* {from} order by w.rank, w.infant_id limit @limit)
select p.infant_id, p.tray, p.step, p.due_on, p.rank, p.reasons::text, s.born_on, s.screening, s.hearing, s.flags, rs.name,
       b.infant_given_name, b.infant_family_name, b.mother_given_name, b.mother_family_name, b.contact_phone, b.language,
       number.value, contact.attempts, contact.last_on, contact.last_outcome, called.name,
       nullif(concat_ws(', ', nullif(called.contact_name, ''), coalesce(called.contact_phone, called.contact_email)), ''), family.said
  from page p
  join infant_status s on s.infant_id = p.infant_id
  join sites rs on rs.id = p.responsible_site_id
  -- Who continues a closed site is called about its infants: the last of the line, which is open.
  left join lateral (
    select h.heir_id from site_heirs h join sites heir on heir.id = h.heir_id and heir.active
     where h.site_id = rs.id limit 1) line on true
  left join sites called on called.id = line.heir_id
  left join births b on b.infant_id = p.infant_id and b.superseded_at is null
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = p.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = @own_site) desc, (i.site_id = s.birth_site_id) desc, i.recorded_at, i.id limit 1) number on true
  left join lateral (
    select count(*)::int as attempts, max(c.attempted_on) as last_on,
           (array_agg(c.outcome order by c.attempted_on desc, c.recorded_at desc))[1] as last_outcome
      from contacts c where c.infant_id = p.infant_id and c.superseded_at is null) contact on true
{family}
 order by p.rank, p.infant_id;
