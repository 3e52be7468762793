-- How often each site sends, as known at @known on day @as_of, and how long a silence that rhythm allows.
-- Rhythm: the gaps between days with a submission over the last 400 days. Expected at most: the larger of @least days and @times the 95th
-- percentile of the site's own gaps (policy). With fewer than four days there is no rhythm to speak of, and a month is allowed. A site where infants are born that
-- never sent is silent. Common practice, no source.
with ever as (
  select s.site_id, (max(s.received_at) at time zone @zone)::date as last_day
    from submissions s
   where s.received_at <= @known and s.state <> 'refused' group by 1
), days as (
  select distinct s.site_id, (s.received_at at time zone @zone)::date as day
    from submissions s
   where s.received_at <= @known and s.received_at > @known - interval '400 days' and s.state <> 'refused'
), gaps as (
  select site_id, day, day - lag(day) over (partition by site_id order by day) as gap from days
), rhythm as (
  select site_id, count(*)::int as days, percentile_disc(0.5) within group (order by gap) as typical,
         percentile_disc(0.95) within group (order by gap) as usual, (array_agg(day order by day desc))[1:6] as latest
    from gaps group by site_id
)
select site.id, site.code, site.name, e.last_day, coalesce(r.days, 0), r.typical::int, r.usual::int,
       case when r.days >= 4 then greatest(@least, @times * r.usual) else 30 end::int as expected_within, coalesce(r.latest, '{}')
  from sites site left join ever e on e.site_id = site.id left join rhythm r on r.site_id = site.id
 where site.active and (e.last_day is not null or site.kind in ('hospital', 'birth_center', 'midwife'))
 order by e.last_day nulls first, site.name;
