-- Puts the rows of a place together. All at one moment: rows that are added meanwhile stay, and are put together the next time.
with gone as (
  delete from work_counts where ctid = any (array(
    select ctid
      from (select ctid, count(*) over (partition by responsible_site_id, county_key, tray, step) as rows from work_counts) c
     where rows > 1))
  returning *
)
insert into work_counts (responsible_site_id, county_key, tray, step, infants)
select responsible_site_id, county_key, tray, step, sum(infants) from gone group by 1, 2, 3, 4 having sum(infants) <> 0
