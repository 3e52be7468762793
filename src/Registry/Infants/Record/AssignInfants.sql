-- Gives the infants @infants to the case worker @worker, or to nobody when that is null. Who has one already keeps it, and its moment.
with ended as (
  update infant_assignments set ended_at = @now, ended_by = @by
   where infant_id = any(@infants) and ended_at is null and person_id is distinct from @worker
  returning infant_id
), given as (
  -- The unique index sees the row as it was before this statement: who is taken from another is given by the second one.
  insert into infant_assignments (id, infant_id, person_id, assigned_at, assigned_by)
  select gen_random_uuid(), i.id, @worker, @now, @by from infants i
   where i.id = any(@infants) and @worker is not null and not exists (
     select from infant_assignments a where a.infant_id = i.id and a.ended_at is null)
  on conflict do nothing
  returning infant_id
)
select infant_id from ended union select infant_id from given;
