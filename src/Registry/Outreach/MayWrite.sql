-- Who may be written to now, and about what: the family consented and left an address, asked for no stop, and the infant has not died,
-- moved away or been refused the step. One place: used to queue, to withdraw and once more when a reminder is sent.
select s.infant_id, due ->> 'step' as step, (due ->> 'dueOn')::date as due_on, b.contact_email, b.contact_email_key,
       b.language
  from infant_status s
  join births b on b.infant_id = s.infant_id and b.superseded_at is null
  cross join lateral jsonb_array_elements(s.dues) due
 where b.email_consent and b.contact_email is not null and b.contact_email <> ''
   and not exists (select from mail_stops m where m.infant_id = s.infant_id)
   and not exists (select from deaths d where d.infant_id = s.infant_id and d.superseded_at is null)
   and coalesce((select m.kind from moves m where m.infant_id = s.infant_id and m.superseded_at is null order by m.moved_on desc, m.recorded_at desc limit 1), 'returned') = 'returned'
   and not exists (
     select from refusals r
      where r.infant_id = s.infant_id and r.superseded_at is null and r.revoked_on is null
        and r.step = case
          when due ->> 'step' in ('screen', 'complete_screen', 'rescreen', 'repeat_screen') then 'screening'
          when due ->> 'step' in ('diagnostic_evaluation', 'complete_diagnosis', 'surveillance_evaluation') then 'diagnosis'
          else 'intervention' end)
