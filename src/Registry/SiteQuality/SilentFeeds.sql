-- How often a site (null: each) uses each way of sending, over the 400 days before @known. What people type has no rhythm and is left out.
with days as (
  select distinct s.site_id, s.format, (s.received_at at time zone @zone)::date as day
    from submissions s
   where (@site::uuid is null or s.site_id = @site) and s.received_at <= @known and s.received_at > @known - interval '400 days' and s.state <> 'refused'
     and s.format <> 'typed'
), gaps as (
  select site_id, format, day, day - lag(day) over (partition by site_id, format order by day) as gap from days
)
select g.format, count(*)::int, max(g.day), (percentile_disc(0.95) within group (order by g.gap))::int, s.arrival_days, s.code
  from gaps g join sites s on s.id = g.site_id and s.active
 group by s.id, s.code, s.arrival_days, g.format order by s.code, g.format
