-- What is counted of each site and unit over days: the sums of what is known now, less what changed after @as_of (null: nothing), and the
-- changes that are not in the sums yet.
with counted as (
  select 1 as sign, site_id, unit, day, {figures} from screen_counts
   where changed_on is null and counted_by = @counted_by and grouping = @grouping and day between @from and @to
     and (@site::uuid is null or site_id = @site)
  union all
  select -1, site_id, unit, day, {figures} from screen_counts
   where changed_on > @as_of and counted_by = @counted_by and grouping = @grouping and day between @from and @to
     and (@site::uuid is null or site_id = @site)
  union all
  select 1, site_id, {changed_unit}, {changed_day}, {figures} from count_changes
   where (@as_of::date is null or changed_on <= @as_of) and {changed_day} between @from and @to
     and (@site::uuid is null or site_id = @site)
), summed as (
  select site_id, {unit} as unit, {day} as day, {sums} from counted group by 1, 2, 3
)
select * from summed where tests <> 0 or infants <> 0 or sessions <> 0 order by site_id, unit, day
