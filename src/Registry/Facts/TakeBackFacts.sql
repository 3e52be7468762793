-- The row's fact was replaced since.
select from {table} where infant_id = $1 and submission_id = $2 and row_number = $3 and superseded_at is not null
    and superseded_at <> $4 and recorded_at >= $5
    and not exists (select from {table} c
      where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null);

-- Something was recorded in place of what the row retracted.
select from corrections c
  join {table} f on f.infant_id = c.infant_id and f.superseded_at is null and f.recorded_at >= c.recorded_at
 where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null and c.kind = '{kind}'
   and c.action = 'retract';

-- Another row has spoken of the infant.
select from {table} where infant_id = $1 and superseded_at is null and (submission_id, row_number) is distinct from ($2, $3);

-- The row made the infant: no other stated its birth.
exists (select from births where infant_id = $1 and submission_id = $2 and row_number = $3)
  and not exists (select from births where infant_id = $1 and (submission_id, row_number) is distinct from ($2, $3));

-- Closes what the row recorded.
update {table} set superseded_at = $4
 where infant_id = $1 and submission_id = $2 and row_number = $3 and superseded_at is null;

-- Restates what the row had closed.
insert into {table}
select (jsonb_populate_record(
    old, jsonb_build_object('id', gen_random_uuid(), 'recorded_at', $4::timestamptz, 'superseded_at', null))).*
  from {table} old join corrections c on c.fact_id = old.id and c.kind = '{kind}'
 where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null;

-- What goes with a restated fact.
insert into {detail table} ({detail key}, {detail columns})
select again.id, {detail values}
  from corrections c
  join {table} old on old.id = c.fact_id
  join {detail table} d on d.{detail key} = old.id
  join {table} again on again.infant_id = old.infant_id and again.submission_id = old.submission_id
    and again.row_number = old.row_number and again.recorded_at = $4 and again.superseded_at is null
 where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null
