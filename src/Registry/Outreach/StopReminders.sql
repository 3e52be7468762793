with asked as (
  select infant_id from reminders where stop_token = @token
), stopped as (
  insert into mail_stops (infant_id, stopped_at) select infant_id, @now from asked on conflict do nothing
)
update reminders set state = 'withdrawn' where state = 'queued' and infant_id in (select infant_id from asked);
