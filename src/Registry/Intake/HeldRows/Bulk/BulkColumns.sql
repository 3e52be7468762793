-- Their kinds, and the columns any of them states.
select distinct content ->> 'kind', null from waiting
union all select null, * from (select distinct k from waiting, jsonb_object_keys(content) k) s
