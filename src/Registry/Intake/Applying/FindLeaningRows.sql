-- Rows applied on the strength of details, whose candidates changed with the given infants ($1): all those of each infant such a row was
-- applied to, in the order in which they were. First as HeldContent reads them; then outcome, infant and when they were applied.
-- "offset 0" keeps each lookup one probe of an index per key, whatever the planner believes about a growing table.
with infant as (select * from unnest($1::uuid[]) as i (id)),
birth as materialized (
  select distinct k.born_on, k.mother_family_key, k.mother_born_on
    from infant
   cross join lateral (select born_on, mother_family_key, mother_born_on from births where infant_id = infant.id offset 0) k
),
card as materialized (
  select distinct k.value from infant
   cross join lateral (select kind, value from infant_identifiers where infant_id = infant.id offset 0) k where k.kind = 'card_id'
),
near as (
  select w.* from birth k cross join lateral (
    select submission_id, row_number from held_rows
     where birth_date = k.born_on and mother_family_key = k.mother_family_key and leans_on is not null offset 0) w
  union
  select w.* from birth k cross join lateral (
    select submission_id, row_number from held_rows
     where birth_date = k.born_on and mother_born_on = k.mother_born_on and leans_on is not null offset 0) w
  union
  select w.* from card k cross join lateral (
    select submission_id, row_number from held_rows where card_id = k.value and leans_on is not null offset 0) w
  union
  select w.* from infant cross join lateral (
    select submission_id, row_number from held_rows where infant_id = infant.id and leans_on is not null offset 0) w
),
changed as materialized (
  select distinct h.infant_id from near join held_rows h using (submission_id, row_number) where h.leans_on <> {digest}
)
select h.submission_id, h.row_number, h.site_id, s.received_at, r.content, r.line, r.problems::text, r.outcome, h.infant_id, h.resolved_at
  from changed
 cross join lateral (
   select * from held_rows where infant_id = changed.infant_id and leans_on is not null offset 0) h
  join submissions s on s.id = h.submission_id
  join submission_rows r on r.submission_id = h.submission_id and r.row_number = h.row_number and r.content is not null
 order by h.resolved_at, h.submission_id, h.row_number
