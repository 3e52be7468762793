-- Takes an assertion once, with the token given for it, and forgets those of the same key that could not be shown any more.
with gone as (
  delete from key_tokens where site_key_id = @key and ends_at < @now - interval '10 minutes')
insert into key_tokens (id, site_key_id, assertion_sha256, token_sha256, scope, issued_at, ends_at)
values (@id, @key, @assertion, @token, @scope, @now, @ends)
on conflict (site_key_id, assertion_sha256) do nothing
