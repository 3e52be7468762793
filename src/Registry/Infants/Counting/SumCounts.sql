-- What is stored of a site, added up.
select counted_by, grouping, site_id, unit, day, changed_on, {sums}
  from screen_counts where site_id = $1
 group by 1, 2, 3, 4, 5, 6
