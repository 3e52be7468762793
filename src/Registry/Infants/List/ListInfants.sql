-- A page of infants with their record number and contact attempts, as known at @known; the whole list when @limit is null. The placeholders
-- are from, where and filter (ListInfants.From), a sort expression of ListInfants.cs and asc or desc; never user input.
with page as (
  select s.*, bs.name as birth_site, rs.name as responsible_site, {sort} as sort_value
  {from}
  order by {sort} {order}, s.infant_id {order}
  limit @limit)
select p.infant_id, p.born_on, p.birth_site, p.responsible_site, number.value, p.screening, p.screened_state,
       p.diagnosed_state, p.enrolled_state, p.hearing, p.next_step, p.next_due_on, p.loss, p.lost_at, p.flags,
       contact.attempts, contact.last_on, contact.last_outcome, p.sort_value::text, called.name,
       nullif(concat_ws(', ', nullif(called.contact_name, ''), coalesce(called.contact_phone, called.contact_email)), '')
  from page p
  join sites owning on owning.id = p.responsible_site_id
  -- Who continues a closed site is called about its infants: the last of the line, which is open.
  left join lateral (
    select h.heir_id from site_heirs h join sites heir on heir.id = h.heir_id and heir.active
     where h.site_id = owning.id limit 1) line on true
  left join sites called on called.id = line.heir_id
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = p.infant_id and i.kind = 'record_number'
       and i.recorded_at <= @known and (i.superseded_at is null or i.superseded_at > @known)
     order by (i.site_id = @own_site) desc, (i.site_id = p.birth_site_id) desc, i.recorded_at, i.id limit 1) number on true
  left join lateral (
    select count(*)::int as attempts, max(c.attempted_on) as last_on,
           (array_agg(c.outcome order by c.attempted_on desc, c.recorded_at desc))[1] as last_outcome
      from contacts c
     where c.infant_id = p.infant_id and c.attempted_on <= p.as_of
       and c.recorded_at <= @known and (c.superseded_at is null or c.superseded_at > @known)) contact on true
 order by p.sort_value {order}, p.infant_id {order};
