-- Puts the rows of one group together where there are several; those that add up to nothing go. Whoever reads meanwhile sees the rows before
-- or the rows after, which add up to the same. Answers how many rows went.
with several as (
  select counted_by, grouping, site_id, unit, day, changed_on
    from screen_counts group by 1, 2, 3, 4, 5, 6 having count(*) > 1
), gone as (
  delete from screen_counts c using several s
   where c.counted_by = s.counted_by and c.grouping = s.grouping and c.site_id = s.site_id and c.unit = s.unit and c.day = s.day
     and c.changed_on is not distinct from s.changed_on
  returning c.*
), put as (
  insert into screen_counts (counted_by, grouping, site_id, unit, day, changed_on, {columns})
  select counted_by, grouping, site_id, unit, day, changed_on, {sums} from gone group by 1, 2, 3, 4, 5, 6 having {something}
)
select count(*) from gone
