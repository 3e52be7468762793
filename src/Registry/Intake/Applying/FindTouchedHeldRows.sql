-- Waiting rows that state one of the given identifiers or birth dates, and those that wait for a fact of one of the given infants, or to be confirmed,
-- oldest submission first. Columns as HeldContent reads them.
-- "offset 0" keeps each lookup one probe of an index per key, whatever the planner believes about a growing table.
with touched as (
  select w.submission_id, w.row_number
    from unnest($4::uuid[], $5::text[]) as known (site_id, value)
   cross join lateral (
     select submission_id, row_number from held_rows
      where site_id = known.site_id and record_number = known.value and resolution is null and reason = 'no_such_infant' offset 0) w
  union
  select w.submission_id, w.row_number
    from unnest($6::text[]) as known (value)
   cross join lateral (
     select submission_id, row_number from held_rows
      where card_id = known.value and resolution is null and reason = 'no_such_infant' offset 0) w
  union
  select w.submission_id, w.row_number
    from unnest($7::date[]) as known (born_on)
   cross join lateral (
     select submission_id, row_number, mother_family_key, mother_born_on from held_rows
      where birth_date = known.born_on and resolution is null and reason = 'no_such_infant' offset 0) w
   where exists (
     select from births b
      where b.born_on = known.born_on and b.superseded_at is null
        and (b.mother_family_key = w.mother_family_key or b.mother_born_on = w.mother_born_on))
  union
  select w.submission_id, w.row_number
    from held_rows w
   cross join lateral (
     select infant_id from submission_rows where submission_id = w.submission_id and row_number = w.row_number offset 0) r
   where w.resolution is null and w.reason in ('nothing_recorded', 'others_rest_on_it') and r.infant_id = any($8::uuid[])
  union
  select r.submission_id, r.row_number
    from unnest($8::uuid[]) as known (infant_id)
   cross join lateral (
     select submission_id, row_number from submission_rows where infant_id = known.infant_id and outcome = 'held' offset 0) r
   cross join lateral (
     select from held_rows
      where submission_id = r.submission_id and row_number = r.row_number and resolution is null
        and reason in ('awaits_confirmation', 'not_confirmed') offset 0) h
),
page as materialized (
  select submission_id, row_number from touched
   where (submission_id, row_number) > ($1, $2) order by submission_id, row_number limit $3
),
locked as materialized (
  select h.submission_id, h.row_number, h.site_id
    from held_rows h join page using (submission_id, row_number)
   where h.resolution is null
     and h.reason in ('no_such_infant', 'nothing_recorded', 'others_rest_on_it', 'awaits_confirmation', 'not_confirmed')
     for update of h skip locked
)
select l.submission_id, l.row_number, l.site_id, s.received_at, r.content, r.line, r.problems
  from locked l
  join submissions s on s.id = l.submission_id
 cross join lateral (
   select content::text, line, problems::text from submission_rows
    where submission_id = l.submission_id and row_number = l.row_number offset 0) r
 order by l.submission_id, l.row_number
