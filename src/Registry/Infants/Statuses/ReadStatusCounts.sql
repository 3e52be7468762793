-- Infants by what their statuses say today: the counts that hold, of whole months where all of them do, and the statuses themselves where
-- something changed since. {by} is what they are put together by.
with stale as materialized (
  select site_id, born_on from status_marks
  union select site_id, born_on from status_counts where not whole_month and holds_until < @today
), stale_months as materialized (
  select distinct site_id, date_trunc('month', born_on)::date as month from stale
), days as (
  select * from status_counts c where not c.whole_month and (c.born_on between @from and @before or c.born_on between @after and @to) and {asked}
  union all
  select c.* from stale_months m
    join status_counts c on c.site_id = m.site_id and c.born_on between m.month and (m.month + interval '1 month')::date - 1
   where not c.whole_month and m.month between @first and @last and {asked}
), counted as (
  select c.site_id, c.born_on, c.counted, c.state, c.closed, c.infants
    from status_counts c
   where c.whole_month and c.born_on between @first and @last and {asked}
     and not exists (select from stale_months m where m.site_id = c.site_id and m.month = c.born_on)
  union all
  select c.site_id, c.born_on, c.counted, c.state, c.closed, c.infants
    from days c where not exists (select from stale s where s.site_id = c.site_id and s.born_on = c.born_on)
  union all
  select s.birth_site_id, s.born_on, x.counted, x.state, x.closed, 1
    from stale
    join infant_status s on s.birth_site_id = stale.site_id and s.born_on = stale.born_on
    {cells}
   where {kept} and x.counted = any (@figures) and s.born_on between @from and @to
     and (@site::text is null or s.birth_site_id = (select id from sites where code = @site))
)
select {by}, counted, state, closed, sum(infants) from counted group by 1, 2, 3, 4
