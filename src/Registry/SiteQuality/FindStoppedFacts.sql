-- Of each open site where infants are born: the last birth, the last day of a test, and infants tested a day in the year up to that day; as
-- known now. The year is read as its whole months and the days around them.
select s.id, s.code, s.arrival_days, b.born_on, t.day, x.infants / 365.0::float8
  from sites s
  left join lateral (
    select i.born_on from infant_status i where i.birth_site_id = s.id order by i.born_on desc limit 1) b on true
 cross join lateral (
    select max(d.day) as first
      from (select c.day from all_screen_counts c
             where c.changed_on is null and c.counted_by = 'test_month' and c.grouping = 'site' and c.site_id = s.id
             group by c.day having sum(c.tests) > 0) d) m
 cross join lateral (
    select max(d.day) as day
      from (select c.day from all_screen_counts c
             where c.changed_on is null and c.counted_by = 'test' and c.grouping = 'site' and c.site_id = s.id and c.day >= m.first
             group by c.day having sum(c.tests) > 0) d) t
 cross join lateral (select t.day - 364 as first, date_trunc('month', t.day - 365 + interval '1 month')::date as month) y
 cross join lateral (
    select sum(c.infants)::float8 as infants from all_screen_counts c
     where c.changed_on is null and c.grouping = 'site' and c.site_id = s.id
       and (c.counted_by = 'test_month' and c.day between y.month and m.first - 1
         or c.counted_by = 'test' and c.day between y.first and y.month - 1
         or c.counted_by = 'test' and c.day between m.first and t.day)) x
 where s.active and s.kind in ('hospital', 'birth_center', 'midwife') and t.day is not null
