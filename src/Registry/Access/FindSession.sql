-- A session in force, with what its person is in the place it works in, whether they have others, and the glasses they broke there.
select s.id, p.id, coalesce(w.role, p.role), case when w.id is null then p.site_id else w.site_id end, p.display_name,
       p.given_password_until is not null, s.seen_at, s.second_factor_at is not null, p.two_factor_enabled, p.demonstration,
       exists (select from person_places e where e.person_id = p.id),
       case when w.id is null then p.counties else w.counties end,
       array(select g.id from opened_glasses g
              where g.person_id = p.id and g.ended_at is null and g.ends_at > @now and g.role = coalesce(w.role, p.role)
                and g.site_id is not distinct from (case when w.id is null then p.site_id else w.site_id end))
  from sessions s
  join people p on p.id = s.person_id
  left join person_places w on w.id = s.place_id and w.person_id = p.id
 where s.token_sha256 = @token
   and s.ended_at is null
   and s.opened_at > @opened_after
   and s.seen_at > @seen_after
   and p.disabled_at is null
   and (not p.demonstration or @demonstration)
