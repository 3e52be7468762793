-- Counts anew the sites and days whose statuses changed, or whose count holds no longer. All at one moment: a change that is not seen here
-- stays marked. Answers how many.
with changed as (
  delete from status_marks returning site_id, born_on
), stale as (
  select site_id, born_on from changed union select site_id, born_on from status_counts where holds_until < @today
), gone as (
  delete from status_counts c using stale s where c.site_id = s.site_id and c.born_on = s.born_on
), put as (
  insert into status_counts (site_id, born_on, counted, state, closed, infants, holds_until)
  select s.birth_site_id, s.born_on, x.counted, x.state, x.closed, count(*)::int,
         coalesce(min(min(least(
           case when s.screened_deadline_on >= @today then s.screened_deadline_on end,
           case when s.diagnosed_deadline_on >= @today then s.diagnosed_deadline_on end,
           case when s.enrolled_deadline_on >= @today then s.enrolled_deadline_on end,
           case when s.next_due_on - 8 >= @today then s.next_due_on - 8 when s.next_due_on >= @today then s.next_due_on end)))
           over (partition by s.birth_site_id, s.born_on), 'infinity')
    from stale
    join infant_status s on s.birth_site_id = stale.site_id and s.born_on = stale.born_on
    {cells}
   where {kept}
   group by 1, 2, 3, 4, 5
)
select count(*)::int from stale
