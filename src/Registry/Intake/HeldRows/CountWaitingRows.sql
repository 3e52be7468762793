-- How many rows wait, by site, age and what they have alike. Ages as WaitingAge orders them.
select site.id, site.code, site.name,
       case when w.since >= @today then 0 when w.since >= @week then 1 when w.since >= @month then 2 else 3 end,
       coalesce(w.kind, 'unknown'), w.outcome, w.hold, case when w.outcome = 'rejected' then w.problems end, count(*)::int
  from waiting w join sites site on site.id = w.site_id
 group by 1, 2, 3, 4, 5, 6, 7, 8
