-- Claims that wait: the rows of one site about one infant it has not reported on before, longest waiting first. For a viewer of a site
-- those about infants born there. $3: of one claimant. Which stated details agree, and what the rows say, by row.
select h.site_id, s.code, s.name, r.infant_id, b.born_on, birth_site.name, concat_ws(' ', b.infant_given_name, b.infant_family_name),
       concat_ws(' ', b.mother_given_name, b.mother_family_name), min(h.held_at), count(*)::int,
       bool_or(exists (select from infant_identifiers i
         where i.infant_id = r.infant_id and i.kind = 'card_id' and i.value = h.card_id and i.superseded_at is null)),
       bool_or(h.birth_date = b.born_on), bool_or(h.mother_family_key = b.mother_family_key), bool_or(h.mother_born_on = b.mother_born_on),
       array_agg(r.content order by h.held_at, r.submission_id, r.row_number)
  from held_rows h
  join submission_rows r using (submission_id, row_number)
  join sites s on s.id = h.site_id
  join births b on b.infant_id = r.infant_id and b.superseded_at is null
  join sites birth_site on birth_site.id = b.site_id
 where h.resolution is null and h.reason = 'awaits_confirmation'
   and ($1 or b.site_id = $2)
   and ($3::uuid is null or h.site_id = $3)
 group by h.site_id, s.code, s.name, r.infant_id, b.born_on, birth_site.name, b.infant_given_name, b.infant_family_name,
       b.mother_given_name, b.mother_family_name
 order by min(h.held_at), h.site_id, r.infant_id
 limit $4
