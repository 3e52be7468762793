select s.id, p.id, p.role, p.site_id, p.display_name, p.given_password_until is not null, s.seen_at
  from sessions s
  join people p on p.id = s.person_id
 where s.token_sha256 = @token
   and s.ended_at is null
   and s.opened_at > @opened_after
   and s.seen_at > @seen_after
   and p.disabled_at is null
   and (not p.demonstration or @demonstration)
