-- Instruments, probes and screeners of a site as its tests name them, with the first and last day of a test and how many: what is known now,
-- less what changed after @as_of (null: nothing).
with days as (
  select grouping, unit, day, sum(case when changed_on is null then tests else -tests end) as tests
    from all_screen_counts
   where (changed_on is null or changed_on > @as_of) and counted_by = 'test' and grouping in ('instrument', 'probe', 'screener')
     and site_id = @site and unit <> ''
   group by 1, 2, 3
)
select grouping, unit, min(day), max(day), sum(tests)::int from days where tests > 0 group by 1, 2 order by 1, 2
