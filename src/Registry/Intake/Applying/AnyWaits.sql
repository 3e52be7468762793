-- Does any row wait for something that may come by itself? Each half is one look into an index.
select exists (select from held_rows where resolution is null and reason = 'no_such_infant')
    or exists (select from held_rows where resolution is null and reason in ('nothing_recorded', 'others_rest_on_it'))
    or exists (select from held_rows where resolution is null and reason in ('awaits_confirmation', 'not_confirmed'))
