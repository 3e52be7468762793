-- How often a site uses each way of sending, over the 400 days before @known. What people type has no rhythm and is left out.
with days as (
  select distinct s.format, (s.received_at at time zone @zone)::date as day
    from submissions s
   where s.site_id = @site and s.received_at <= @known and s.received_at > @known - interval '400 days' and s.state <> 'refused'
     and s.format <> 'typed'
), gaps as (
  select format, day, day - lag(day) over (partition by format order by day) as gap from days
)
select format, count(*)::int, max(day), (percentile_disc(0.95) within group (order by gap))::int,
       (select arrival_days from sites where id = @site)
  from gaps group by format order by format
