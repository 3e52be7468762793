-- Of each open site where infants are born: the last birth, the last day of a test, and infants tested a day in the year before that day; as
-- known now, the changes that are not in the sums yet among them.
select s.id, s.code, s.arrival_days, b.born_on, t.day, x.infants / 365.0::float8
  from sites s
  left join lateral (
    select i.born_on from infant_status i where i.birth_site_id = s.id order by i.born_on desc limit 1) b on true
  left join lateral (
    select d.day
      from ((select c.day, c.tests from screen_counts c
              where c.changed_on is null and c.counted_by = 'test' and c.grouping = 'site' and c.site_id = s.id
              order by c.day desc limit 400)
            union all
            select c.tested_on, c.tests from count_changes c where c.site_id = s.id) d
     group by d.day having sum(d.tests) > 0 order by d.day desc limit 1) t on true
  left join lateral (
    select sum(d.infants)::float8 as infants
      from (select c.day, c.infants from screen_counts c
             where c.changed_on is null and c.counted_by = 'test' and c.grouping = 'site' and c.site_id = s.id
            union all
            select c.tested_on, c.infants from count_changes c where c.site_id = s.id) d
     where d.day > t.day - 365 and d.day <= t.day) x on true
 where s.active and s.kind in ('hospital', 'birth_center', 'midwife') and t.day is not null
