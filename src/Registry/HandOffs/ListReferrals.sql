-- Hand-offs that stand to an early-intervention program (@site), with what the referral itself carries: the child's name and birth date, the
-- parent's name and telephone, and the language. What happened since is told of those with the family's consent only, who are shown.
select h.id, h.infant_id, h.state, h.sent_at, h.acknowledge_by, h.acknowledged_on, h.consent_on, sender.name, b.born_on, b.infant_given_name,
       b.infant_family_name, b.mother_given_name, b.mother_family_name, b.contact_phone, b.language,
       h.shown_to_site_id is not null and exists (select from interventions i
         where i.infant_id = h.infant_id and i.superseded_at is null and i.kind in ('enrolled', 'not_eligible', 'other_services', 'monitoring_only')),
       h.shown_to_site_id is not null and exists (select from interventions i
         where i.infant_id = h.infant_id and i.superseded_at is null and i.kind in ('service_plan', 'not_eligible', 'other_services', 'monitoring_only')),
       family.said
  from hand_offs h
  join births b on b.infant_id = h.infant_id and b.superseded_at is null
  join sites sender on sender.id = h.sent_for_site_id
{family}
 where h.to_site_id = any (array(select l.site_id from site_heirs l where l.heir_id = @site)) and h.superseded_at is null
   and h.kind = 'intervention_program'
 order by h.sent_at, h.id
 limit @most;
