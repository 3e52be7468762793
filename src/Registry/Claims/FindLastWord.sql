-- What was last said of a claim ($1 infant, $2 site), when it is the viewer's to take back: $3 a coordinator's, or $4 the birth site's.
with mine as (
  select i.id from infants i join births b on b.infant_id = i.id and b.superseded_at is null
   where i.id = $1 and ($3 or b.site_id = $4) for no key update of i
)
select d.decision, d.at from mine join claim_decisions d on d.infant_id = mine.id and d.site_id = $2 order by d.id desc limit 1
