-- Removes what was kept of the work of @infants, and finds how many were where, which county each is of, who was put off,
with gone as (delete from infant_work where infant_id = any(@infants) returning responsible_site_id, county_key, tray, step)
select responsible_site_id, county_key, tray, step, count(*)::int from gone group by 1, 2, 3, 4;
select infant_id, shown_to from infant_shown where infant_id = any(@infants) and shown_to like 'county:%';
select infant_id, until_on, reason from work_put_off where infant_id = any(@infants) and ended_at is null;

-- and who was handed off: of several hand-offs that stand the one whose receipt is missed first.
select distinct on (infant_id) infant_id, acknowledge_by, acknowledged_on
  from hand_offs
 where infant_id = any(@infants) and superseded_at is null
 order by infant_id, acknowledged_on is not null, acknowledge_by, acknowledged_on desc;

-- The last search for each, and whether its work was closed and no birth stated anew since: that may bring a way to reach the family.
select distinct on (infant_id) infant_id, searched_on, result
  from searches
 where infant_id = any(@infants) and superseded_at is null
 order by infant_id, searched_on desc, recorded_at desc, id desc;
select c.infant_id, c.step, c.closed_on
  from closed_work c
 where c.infant_id = any(@infants) and c.reopened_at is null
   and not exists (select from births b where b.infant_id = c.infant_id and b.superseded_at is null and b.recorded_at > c.closed_at);
