-- The first @most of each topic, or of the one that is asked for after a position in it.
, placed as (
  select s.*, row_number() over (partition by s.topic order by s.day desc, s.infant_id, s.step) as place
    from seen s
   where @topic::text is null or s.topic = @topic
), page as (
  select * from placed p where p.place > @after and p.place <= @after + @most
)
select p.topic, p.infant_id, p.day, p.step, b.born_on, b.infant_given_name, b.infant_family_name, b.mother_given_name,
       b.mother_family_name, number.value, rs.name
  from page p
  join infant_status s on s.infant_id = p.infant_id
  join sites rs on rs.id = s.responsible_site_id
  left join births b on b.infant_id = p.infant_id and b.superseded_at is null
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = p.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = s.birth_site_id) desc, i.recorded_at, i.id limit 1) number on true
 order by p.topic, p.place;
