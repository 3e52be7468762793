-- What is counted of each site and unit over days: what is known now, less what changed after @as_of (null: nothing).
with counted as (
  select 1 as sign, c.* from screen_counts c
   where c.changed_on is null and c.counted_by = @counted_by and c.grouping = @grouping and c.day between @from and @to
     and (@site::uuid is null or c.site_id = @site)
  union all
  select -1, c.* from screen_counts c
   where c.changed_on > @as_of and c.counted_by = @counted_by and c.grouping = @grouping and c.day between @from and @to
     and (@site::uuid is null or c.site_id = @site)
), summed as (
  select site_id, {unit} as unit, {day} as day, {sums} from counted group by 1, 2, 3
)
select * from summed where tests <> 0 or infants <> 0 or sessions <> 0 order by site_id, unit, day
