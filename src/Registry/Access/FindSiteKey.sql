-- Keys in force: of a secret that was shown, of a token that was given for one, or of a system that shows an assertion. One that is revoked
-- or has run out, or whose site is closed, is not found however it is asked for.
select a.shown, k.id, k.site_id, k.name, k.last_used_at, a.scope, k.public_keys, k.certificates
  from (select sha256 as shown, id, scope from site_keys where sha256 = any(@shown)
        union all
        select token_sha256, site_key_id, scope from key_tokens where token_sha256 = any(@shown) and ends_at > @now
        union all
        select null, id, scope from site_keys where id = @client and public_keys is not null) a
  join site_keys k on k.id = a.id
  join sites s on s.id = k.site_id
 where k.revoked_at is null
   and (k.expires_at is null or k.expires_at > @now)
   and s.active
   and (not k.demonstration or @demonstration)
