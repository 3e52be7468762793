-- How often each site sends, as known at @known: the gaps between days with a submission over the last 400 days. Sites that never sent have
-- a line where infants are born. How long a silence is allowed is JudgeSilence's. The day a site was added is known where its place page is
-- as old as that.
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
select site.id, site.code, site.name, e.last_day, coalesce(r.days, 0), r.typical::int, r.usual::int, site.arrival_days,
       coalesce(r.latest, '{}'), greatest(site.open_from, added.day)
  from sites site left join ever e on e.site_id = site.id left join rhythm r on r.site_id = site.id
 cross join lateral (
    select (min(c.at) at time zone @zone)::date as day from site_changes c where c.site_id = site.id and c.before is null) added
 where site.active and (e.last_day is not null or site.kind in ('hospital', 'birth_center', 'midwife'))
 order by e.last_day nulls first, site.name;
