-- Counts anew the sites and days whose statuses changed, or whose count holds no longer, and the months they are in. All at one moment: a
-- change that is not seen here stays marked. Answers how many days.
with changed as (
  delete from status_marks returning site_id, born_on
), stale as (
  select site_id, born_on from changed
  union select site_id, born_on from status_counts where not whole_month and holds_until < @today
), stale_months as (
  select distinct site_id, date_trunc('month', born_on)::date as month from stale
), gone as (
  delete from status_counts c using stale s where not c.whole_month and c.site_id = s.site_id and c.born_on = s.born_on
), gone_months as (
  delete from status_counts c using stale_months m where c.whole_month and c.site_id = m.site_id and c.born_on = m.month
), days as (
  select s.birth_site_id as site_id, s.born_on, x.counted, x.state, x.closed, count(*)::int as infants,
         coalesce(min(min(least(
           case when s.screened_deadline_on >= @today then s.screened_deadline_on end,
           case when s.diagnosed_deadline_on >= @today then s.diagnosed_deadline_on end,
           case when s.enrolled_deadline_on >= @today then s.enrolled_deadline_on end,
           case when s.next_due_on - 8 >= @today then s.next_due_on - 8 when s.next_due_on >= @today then s.next_due_on end)))
           over (partition by s.birth_site_id, s.born_on), 'infinity') as holds_until
    from stale
    join infant_status s on s.birth_site_id = stale.site_id and s.born_on = stale.born_on
    {cells}
   where {kept}
   group by 1, 2, 3, 4, 5
), of_months as (
  select site_id, date_trunc('month', born_on)::date as month, counted, state, closed, infants, holds_until from days
  union all
  select c.site_id, m.month, c.counted, c.state, c.closed, c.infants, c.holds_until
    from stale_months m
    join status_counts c on c.site_id = m.site_id and c.born_on between m.month and (m.month + interval '1 month')::date - 1
   where not c.whole_month and not exists (select from stale s where s.site_id = c.site_id and s.born_on = c.born_on)
), put as (
  insert into status_counts (whole_month, site_id, born_on, counted, state, closed, infants, holds_until)
  select false, * from days
  union all
  select true, site_id, month, counted, state, closed, sum(infants)::int, min(min(holds_until)) over (partition by site_id, month)
    from of_months group by site_id, month, counted, state, closed
)
select count(*)::int from stale
