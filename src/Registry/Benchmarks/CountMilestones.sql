-- Infants by month of birth, milestone, state and whether the deadline has passed; the placeholder is ListInfants.From with EachMilestone.sql.
select date_trunc('month', s.born_on)::date, m.kind, m.state, m.deadline_on < @as_of, count(*)
{from}
 group by 1, 2, 3, 4;
