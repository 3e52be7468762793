-- The next reminder, if the family may still be written to about this step. Committed by itself before anything is sent.
update reminders r set state = 'sending', sending_at = @now, attempts = r.attempts + 1
  from ({may_write}) w
 where r.id = (
         select q.id from reminders q
          where q.state = 'queued' and q.not_before <= @now
            and exists (select from ({may_write}) m where m.infant_id = q.infant_id and m.step = q.step and m.due_on = q.due_on)
          order by q.queued_at, q.id limit 1 for update of q skip locked)
   and w.infant_id = r.infant_id and w.step = r.step and w.due_on = r.due_on
returning r.id, r.stop_token, r.attempts, w.email, w.kept_in, w.language;
