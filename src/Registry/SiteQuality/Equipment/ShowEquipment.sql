-- Instruments, probes and screeners of a site as its tests name them, with the first and last day of a test and how many: what is known now,
-- less what changed after @as_of (null: nothing), and the changes that are not in the sums yet.
with counted as (
  select grouping, unit, day, tests from screen_counts
   where changed_on is null and counted_by = 'test' and grouping in ('instrument', 'probe', 'screener') and site_id = @site
     and unit <> ''
  union all
  select grouping, unit, day, -tests from screen_counts
   where changed_on > @as_of and counted_by = 'test' and grouping in ('instrument', 'probe', 'screener') and site_id = @site
     and unit <> ''
  union all
  select g.grouping, g.unit, c.tested_on, c.tests
    from count_changes c
   cross join lateral (values ('instrument', c.instrument), ('probe', c.probe), ('screener', c.screener)) g (grouping, unit)
   where c.site_id = @site and g.unit <> '' and (@as_of::date is null or c.changed_on <= @as_of)
), days as (
  select grouping, unit, day, sum(tests) as tests from counted group by 1, 2, 3 having sum(tests) > 0
)
select grouping, unit, min(day), max(day), sum(tests)::int from days group by 1, 2 order by 1, 2
