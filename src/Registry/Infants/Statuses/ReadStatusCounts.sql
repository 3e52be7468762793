-- Infants by what their statuses say today: the counts that hold, and the statuses themselves where something changed since. {by} is what
-- they are put together by.
with stale as materialized (
  select site_id, born_on from status_marks union select site_id, born_on from status_counts where holds_until < @today
), counted as (
  select c.site_id, c.born_on, c.counted, c.state, c.closed, c.infants
    from status_counts c
   where c.counted = any (@figures) and c.born_on between @from and @to and (@site::text is null or c.site_id = (select id from sites where code = @site))
     and not exists (select from stale s where s.site_id = c.site_id and s.born_on = c.born_on)
  union all
  select s.birth_site_id, s.born_on, x.counted, x.state, x.closed, 1
    from stale
    join infant_status s on s.birth_site_id = stale.site_id and s.born_on = stale.born_on
    {cells}
   where {kept} and x.counted = any (@figures) and s.born_on between @from and @to
     and (@site::text is null or s.birth_site_id = (select id from sites where code = @site))
)
select {by}, counted, state, closed, sum(infants) from counted group by 1, 2, 3, 4
