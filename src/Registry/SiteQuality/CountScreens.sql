-- What is counted of each site and unit over days: what is known now, less what changed after @as_of (null: nothing). Whole months are read as
-- such (WholeMonths).
with counted as (
  select 1 as sign, c.* from all_screen_counts c where c.changed_on is null and {asked}
  union all
  select -1, c.* from all_screen_counts c where c.changed_on > @as_of and {asked}
), summed as (
  select site_id, unit, {day} as day, {sums} from counted group by 1, 2, 3
)
select * from summed where tests <> 0 or infants <> 0 or sessions <> 0 order by site_id, unit, day
