-- Waiting rows that name one of the given infants, by what it is or was known by (an identifier; its birth date with the mother's family name
-- or birth date), and those that say something about it; oldest submission first. Columns as HeldContent reads them. Not a correction or
-- retraction a person was to decide: it meant what was recorded when it came, not what is left of that. Not a row of which a person took a decision back
-- last: it waits for the sweep, so that the person may do something else with it.
-- "offset 0" keeps each lookup one probe of an index per key, whatever the planner believes about a growing table.
with infant as (select * from unnest($4::uuid[]) as i (id)),
identifier as materialized (
  select distinct k.kind, k.site_id, k.value
    from infant
   cross join lateral (select kind, site_id, value from infant_identifiers where infant_id = infant.id offset 0) k
),
birth as materialized (
  select distinct k.born_on, k.mother_family_key, k.mother_born_on
    from infant
   cross join lateral (select born_on, mother_family_key, mother_born_on from births where infant_id = infant.id offset 0) k
),
touched as (
  select w.* from identifier k cross join lateral (
    select submission_id, row_number from held_rows
     where site_id = k.site_id and record_number = k.value and resolution is null offset 0) w where k.kind = 'record_number'
  union
  select w.* from identifier k cross join lateral (
    select submission_id, row_number from held_rows
     where site_id = k.site_id and prior_record_number = k.value and resolution is null offset 0) w where k.kind = 'record_number'
  union
  select w.* from identifier k cross join lateral (
    select submission_id, row_number from held_rows where card_id = k.value and resolution is null offset 0) w where k.kind = 'card_id'
  union
  select w.* from birth k cross join lateral (
    select submission_id, row_number from held_rows
     where birth_date = k.born_on and mother_family_key = k.mother_family_key and resolution is null offset 0) w
  union
  select w.* from birth k cross join lateral (
    select submission_id, row_number from held_rows
     where birth_date = k.born_on and mother_born_on = k.mother_born_on and resolution is null offset 0) w
  union
  select w.* from infant cross join lateral (
    select submission_id, row_number from held_rows where infant_id = infant.id and resolution is null offset 0) w
),
page as materialized (
  select submission_id, row_number from touched
   where (submission_id, row_number) > ($1, $2)
     and coalesce((select c.kind from row_changes c where c.submission_id = touched.submission_id and c.row_number = touched.row_number
                    order by c.id desc limit 1), '') <> 'taken_back'
     and not exists (
       select from held_rows h
        where h.submission_id = touched.submission_id and h.row_number = touched.row_number
          and (h.reason = 'several_recorded' or (h.reason = 'contradicts_record' and h.amends)))
   order by submission_id, row_number limit $3
),
locked as materialized (
  select h.submission_id, h.row_number, h.site_id
    from held_rows h join page using (submission_id, row_number)
   where h.resolution is null
     for update of h skip locked
)
select l.submission_id, l.row_number, l.site_id, s.received_at, r.content, r.line, r.problems
  from locked l
  join submissions s on s.id = l.submission_id
 cross join lateral (
   select content, line, problems::text from submission_rows
    where submission_id = l.submission_id and row_number = l.row_number offset 0) r
 order by l.submission_id, l.row_number
