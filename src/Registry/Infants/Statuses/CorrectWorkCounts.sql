-- Adds what the work itself says and the counts do not. Both are read at one moment, and whoever changes one changes the other.
insert into work_counts (responsible_site_id, county_key, tray, step, infants)
select responsible_site_id, county_key, tray, step, sum(infants)
  from (
    select responsible_site_id, county_key, tray, step, count(*) as infants
      from infant_work
     group by tray, step, grouping sets ((responsible_site_id), (county_key), ())
    having grouping(county_key) = 1 or county_key is not null
    union all
    select responsible_site_id, county_key, tray, step, -infants from work_counts) c
 group by 1, 2, 3, 4
having sum(infants) <> 0
