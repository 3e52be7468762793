-- Drops the days longest unused until $1 more rows fit into $2; never one used since $3: somebody may be reading it.
-- Answers how many rows are kept.
with kept as (
  select id, used_at, rows, sum(rows) over (order by used_at desc, id) as with_newer from status_snapshots
), gone as (
  delete from status_snapshots where id in (select id from kept where with_newer + $1 > $2 and used_at < $3) returning id, rows
), gone_rows as (
  delete from infant_status_snapshot where snapshot_id in (select id from gone)
)
select coalesce((select sum(rows) from kept), 0)::bigint - coalesce((select sum(rows) from gone), 0)::bigint
