-- How many rows waited at the moment @end: what waits now and came before it, and what was settled since, as it was then. Reads what waits
-- and what happened since that moment, not what was settled long ago.
with touched as (
  select distinct on (c.submission_id, c.row_number)
         c.submission_id, c.row_number, c.before -> 'row' ->> 'outcome' as outcome, c.before -> 'row' ->> 'discarded_at' is not null as settled,
         c.before -> 'held' ->> 'reason' as hold
    from row_changes c
   where c.at > @end
   order by c.submission_id, c.row_number, c.id
), untouched as (
  select r.submission_id, r.row_number, r.outcome, null as hold
    from submission_rows r
   where r.outcome in ('held', 'rejected') and r.discarded_at is null
  union
  select r.submission_id, r.row_number, r.outcome, null
    from submission_rows r
   where r.outcome = 'rejected' and r.discarded_at > @end
  union
  -- settled by itself
  select h.submission_id, h.row_number, 'held', null
    from held_rows h
   where h.resolved_at > @end and h.held_at <= @end and h.resolved_by is null
), waited as (
  select t.submission_id, t.row_number, t.outcome, t.hold
    from touched t
   where t.outcome in ('held', 'rejected') and not t.settled
  union all
  select u.submission_id, u.row_number, u.outcome, h.reason
    from untouched u
    left join held_rows h on h.submission_id = u.submission_id and h.row_number = u.row_number and u.outcome = 'held'
   where not exists (select from touched t where t.submission_id = u.submission_id and t.row_number = u.row_number)
)
select count(*)::int, count(*) filter (where s.received_at < @old)::int, count(*) filter (where w.hold = 'awaits_confirmation')::int
  from (select distinct submission_id, row_number, outcome, hold from waited) w
  join submissions s on s.id = w.submission_id
 where s.received_at <= @end and (@site::uuid is null or s.site_id = @site)
