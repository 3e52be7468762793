-- Adds $5 infants at each site $1, county $2, tray $3 and step $4: to those of the site, of the county, and of the region.
insert into work_counts (responsible_site_id, county_key, tray, step, infants)
select site, county, tray, step, sum(n)
  from unnest($1, $2, $3, $4, $5) c (site, county, tray, step, n)
 group by tray, step, grouping sets ((site), (county), ())
having sum(n) <> 0 and (grouping(county) = 1 or county is not null)
