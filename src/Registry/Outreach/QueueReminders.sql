with may_write as materialized ({may_write}),
withdrawn as (
  update reminders r set state = 'withdrawn'
   where r.state = 'queued'
     and not exists (select from may_write w where w.infant_id = r.infant_id and w.step = r.step and w.due_on = r.due_on)
  returning r.id
),
-- Reminders already sent or on their way, by address: none within the gap.
recent as (
  select distinct coalesce(a.email_key, a.email) as address
    from reminders r join births b on b.infant_id = r.infant_id and b.superseded_at is null
   cross join lateral ({newest_address}) a
   where (r.state in ('queued', 'sending') and r.id not in (select id from withdrawn)
       or r.state in ('sent', 'written', 'failed') and coalesce(r.sent_at, r.sending_at, r.queued_at) > @now - make_interval(days => @gap_days))
),
candidate as (
  select w.*, coalesce(p.reminders, 0) + 1 as ordinal
    from may_write w
    left join lateral (
      -- a withdrawn reminder was never sent, but keeps its number
      select count(*)::int as reminders, count(*) filter (where r.state <> 'withdrawn')::int as sent,
             max(coalesce(r.sent_at, r.queued_at)) filter (where r.state <> 'withdrawn') as last_at
        from reminders r where r.infant_id = w.infant_id and r.step = w.step and r.due_on = w.due_on) p on true
   where w.step = any(@steps)
     and w.due_on - @days_before <= @today and w.due_on + @max_days_overdue >= @today
     and coalesce(p.sent, 0) < @max_per_step
     and (p.last_at is null or p.last_at <= @now - make_interval(days => @repeat_days))
     and coalesce(w.email_key, w.email) not in (select address from recent)
),
-- One reminder an address: the most urgent step. (An address stored before there were keys has none to be found by.)
chosen as (
  select distinct on (coalesce(email_key, email)) * from candidate
   order by coalesce(email_key, email), due_on, infant_id),
queued as (
  insert into reminders (id, infant_id, step, due_on, ordinal, state, queued_at, not_before, attempts, stop_token)
  select gen_random_uuid(), infant_id, step, due_on, ordinal, 'queued', @now, @now, 0,
         -- 244 random bits, nothing about anybody
         replace(gen_random_uuid()::text || gen_random_uuid()::text, '-', '')
    from chosen
  on conflict do nothing
  returning id
)
select (select count(*) from queued)::int, (select count(*) from withdrawn)::int;
