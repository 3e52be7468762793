update reminders
   set state = @state, last_error = @error, sent_at = case when @state in ('sent', 'written') then @now end,
       not_before = coalesce(@not_before, not_before)
 where id = @id;
