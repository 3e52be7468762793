-- What is kept of @infant beside the facts: a name and a JSON array for each place.
select 'identifiers', coalesce(jsonb_agg(to_jsonb(t) order by t.recorded_at), '[]')::text from infant_identifiers t where t.infant_id = @infant
union all
select 'corrections', coalesce(jsonb_agg(to_jsonb(t) order by t.recorded_at), '[]')::text from corrections t where t.infant_id = @infant
union all
select 'status', coalesce(jsonb_agg(to_jsonb(t)), '[]')::text from infant_status t where t.infant_id = @infant
union all
select 'losses_found', coalesce(jsonb_agg(to_jsonb(t) order by t.found_on), '[]')::text from loss_findings t where t.infant_id = @infant
union all
select 'rows', coalesce(jsonb_agg(to_jsonb(t) order by t.submission_id, t.row_number), '[]')::text from submission_rows t where t.infant_id = @infant
union all
select 'decisions', coalesce(jsonb_agg(to_jsonb(c) order by c.id), '[]')::text
  from row_changes c join submission_rows t using (submission_id, row_number) where t.infant_id = @infant
union all
select 'claims', coalesce(jsonb_agg(to_jsonb(t) order by t.id), '[]')::text from claim_decisions t where t.infant_id = @infant
union all
select 'hand_offs', coalesce(jsonb_agg(to_jsonb(t) order by t.sent_at), '[]')::text from hand_offs t where t.infant_id = @infant
union all
select 'hand_off_events', coalesce(jsonb_agg(to_jsonb(e) order by e.id), '[]')::text
  from hand_off_events e join hand_offs t on t.id = e.hand_off_id where t.infant_id = @infant
union all
select 'answers_asked', coalesce(jsonb_agg(to_jsonb(t) - 'token_sha256' order by t.asked_at), '[]')::text
  from answer_requests t where t.infant_id = @infant
union all
select 'reminders', coalesce(jsonb_agg(to_jsonb(t) - 'stop_token' order by t.queued_at), '[]')::text from reminders t where t.infant_id = @infant
union all
select 'reminders_stopped', coalesce(jsonb_agg(to_jsonb(t)), '[]')::text from mail_stops t where t.infant_id = @infant
union all
select 'erasures', coalesce(jsonb_agg(to_jsonb(t) order by t.asked_at), '[]')::text from erasure_requests t where t.infant_id = @infant
union all
select 'looked_at', coalesce(jsonb_agg(to_jsonb(a) - 'infants' - 'hash' order by a.id), '[]')::text
  from (select * from access_records where infant_id = @infant union all
        select * from access_records where infants @> array[@infant] and infant_id is null) a
