-- Infants whose next step is due and whose result is missing, the latest to pass first; the placeholder is ListInfants.From, never user input.
select s.infant_id, s.next_step, s.next_due_on, s.born_on, b.infant_given_name, b.infant_family_name, b.mother_given_name,
       b.mother_family_name, number.value, count(*) over ()::int
{from}
 order by s.next_due_on desc, s.infant_id
 limit @most;
