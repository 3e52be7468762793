-- Sites whose silence is longer than their own rhythm predicts, as known at @known on day @as_of.
-- Rhythm: the gaps between days with a submission over the last year. Expected at most: the largest of one week, twice the 95th percentile
-- of the site's own gaps. With fewer than four submissions there is no rhythm to speak of, and a month is allowed.
with days as (
  select distinct s.site_id, (s.received_at at time zone @zone)::date as day
    from submissions s
   where s.received_at <= @known and s.received_at > @known - interval '400 days' and s.state <> 'refused'
), gaps as (
  select site_id, day, day - lag(day) over (partition by site_id order by day) as gap from days
), rhythm as (
  select site_id, max(day) as last_day, count(*) as days, percentile_disc(0.95) within group (order by gap) as usual from gaps group by site_id
)
select site.id, site.code, site.name, r.last_day, r.days::int,
       case when r.days >= 4 then greatest(7, 2 * r.usual) else 30 end::int as expected_within
  from sites site join rhythm r on r.site_id = site.id
 where site.active and @as_of::date - r.last_day > case when r.days >= 4 then greatest(7, 2 * r.usual) else 30 end
 order by @as_of::date - r.last_day desc, site.name;
