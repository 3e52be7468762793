-- Waiting rows of one submission, or of all: those that wait for a fact; those whose identifiers are known by now, and were not when they
-- were decided (a card id leads only to an infant the site is known to); those without an infant whose birth date and mother are known by
-- now; those that wait to be confirmed and are; and on demand ($5) all others that found an infant. Columns as HeldContent reads them.
select h.submission_id, h.row_number, h.site_id, s.received_at, r.content, r.line, r.problems::text
  from held_rows h
  join submissions s on s.id = h.submission_id
  join submission_rows r on r.submission_id = h.submission_id and r.row_number = h.row_number
 where h.resolution is null
   and ($4::uuid is null or h.submission_id = $4)
   and (
     h.reason in ('nothing_recorded', 'others_rest_on_it')
     or ($5 and h.reason not in ('no_such_infant', 'several_recorded', 'awaits_confirmation', 'not_confirmed') 
       and not (h.reason = 'contradicts_record' and h.amends))
     or (h.reason = 'awaits_confirmation' and {link} <> 'none')
     or (h.reason in ('no_such_infant', 'partial_agreement', 'birth_order_missing', 'several_candidates') and (
       exists (select from infant_identifiers i
                where i.kind = 'record_number' and i.site_id = h.site_id and i.value = h.record_number and i.superseded_at is null)
       or exists (select from infant_identifiers i
                   where i.kind = 'card_id' and i.value = h.card_id and i.superseded_at is null and {known})
       or exists (select from infant_identifiers i
                   where i.kind = 'record_number' and i.site_id = h.site_id and i.value = h.prior_record_number
                     and i.superseded_at is null)))
     or (h.reason = 'no_such_infant' and exists (
       select from births b
        where b.born_on = h.birth_date and b.superseded_at is null
          and (b.mother_family_key = h.mother_family_key or b.mother_born_on = h.mother_born_on))))
   and (h.submission_id, h.row_number) > ($1, $2)
 order by h.submission_id, h.row_number
 limit $3
   for update of h skip locked
