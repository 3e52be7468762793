-- In time, and eligible, by month of birth and milestone; the placeholder is ListInfants.From with EachMilestone.sql.
select date_trunc('month', s.born_on)::date, m.kind, count(*) filter (where m.state = 'met'), count(*)
{from}
   and m.deadline_on < @as_of and m.state in ('met', 'late', 'missed')
 group by 1, 2 order by 1, 2;
