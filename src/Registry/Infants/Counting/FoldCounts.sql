-- Takes at most $1 changes and adds them to the sums they are part of, of their day and of its month: what is known now (no changed_on), and
-- what each day changed. Whoever reads meanwhile sees the changes, or the sums, which add up to the same. Answers how many changes, with every sum that came to nothing.
with gone as (
  delete from count_changes where ctid = any (array(select ctid from count_changes limit $1)) returning *
), placed as (
  select p.counted_by, p.grouping, c.site_id, p.unit, p.day, c.changed_on, {figures}
    from gone c cross join lateral (values {places}) p (counted_by, grouping, unit, day)
), days as (
  select counted_by, grouping, site_id, unit, day, changed_on, {sums}
    from placed
   group by grouping sets ((counted_by, grouping, site_id, unit, day, changed_on), (counted_by, grouping, site_id, unit, day))
  having {something}
), summed as (
  select * from days
  union all
  select counted_by || '_month', grouping, site_id, unit, date_trunc('month', day)::date, changed_on, {sums}
    from days where grouping <> 'received'
   group by 1, 2, 3, 4, 5, 6
  having {something}
), put as (
  {put}
  select * from summed
  {added} returning c.*
)
select n, counted_by, grouping, site_id, unit, day, changed_on
  from (select count(*) as n from gone) g left join put on {nothing}
