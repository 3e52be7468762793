-- Infants by their soonest due step and by loss, and rows held for a decision; the placeholder is ListInfants.From.
select count(*) filter (where s.next_due_on < @as_of),
       count(*) filter (where s.next_due_on between @as_of and @as_of + 7),
       count(*) filter (where s.loss = 'lost_to_follow_up'),
       count(*) filter (where s.loss = 'lost_to_documentation'),
       (select count(*) from held_rows h where h.resolution is null and (@viewer_sees_all or h.site_id = @viewer_site))
{from};
