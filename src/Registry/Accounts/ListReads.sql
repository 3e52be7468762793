-- A page of the access trail, latest first, with names for ids and what people are now; of one infant when @infant is given: its record, and the lists and exports
-- that held it.
with asked as (
  select a.* from access_records a where @infant is null
  union all
  select a.* from access_records a where a.infant_id = @infant
  union all
  select a.* from access_records a where a.infants @> array[@infant] and a.infant_id is null and @infant is not null
)
select a.id, a.at, a.kind, coalesce(p.display_name, 'the system ' || k.name, ''), a.action, a.handler, a.filter, a.infant_count,
       a.infants is not null, a.note, a.address, a.infant_id,
       p.role, s.name
  from asked a
  left join people p on p.id = a.person_id
  left join site_keys k on k.id = a.site_key_id
  left join sites s on s.id = coalesce(p.site_id, k.site_id)
 where (@kind is null or a.kind = @kind)
   and (@from is null or a.at > @from)
   and (@to is null or a.at <= @to)
   and (@before is null or a.id < @before)
 order by a.id desc limit @limit
