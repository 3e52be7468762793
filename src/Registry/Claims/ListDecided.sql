-- The last word about each claim, newest first, for those who may take it back.
select d.site_id, s.name, d.infant_id, d.decision, d.at, p.display_name, d.reason
  from claim_decisions d
  join sites s on s.id = d.site_id
  join births b on b.infant_id = d.infant_id and b.superseded_at is null
  left join people p on p.id = d.person_id
 where d.decision <> 'taken_back' and ($1 or b.site_id = $2)
   and not exists (select from claim_decisions later where later.infant_id = d.infant_id and later.site_id = d.site_id and later.id > d.id)
 order by d.id desc limit $3
