-- Infants whose next step is due and whose result is missing, the latest to pass first: some by name, and how many of @most_counted. Names and
-- numbers are looked up of those shown only; the placeholder is ListInfants.From, never user input.
with missing as materialized (
  select s.infant_id, s.next_step, s.next_due_on, s.born_on, s.birth_site_id
  {from} and s.responsible_site_id = @of_site -- said beside its code: so the index has them in order, and no more are read than are counted
   order by s.next_due_on desc, s.infant_id limit @most_counted),
shown as (select * from missing order by next_due_on desc, infant_id limit @most)
select s.infant_id, s.next_step, s.next_due_on, s.born_on, b.infant_given_name, b.infant_family_name, b.mother_given_name,
       b.mother_family_name, number.value, (select count(*) from missing)::int
  from shown s
  left join births b on b.infant_id = s.infant_id and b.superseded_at is null
  left join lateral (
    select i.value from infant_identifiers i
     where i.infant_id = s.infant_id and i.kind = 'record_number' and i.superseded_at is null
     order by (i.site_id = s.birth_site_id) desc, i.recorded_at, i.id limit 1) number on true
 order by s.next_due_on desc, s.infant_id;
