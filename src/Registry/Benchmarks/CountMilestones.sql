-- Infants by milestone, state and whether the deadline has passed; the placeholder is ListInfants.From with EachMilestone.sql.
select m.kind, m.state, m.deadline_on < @as_of, count(*)
{from}
 group by 1, 2, 3;
