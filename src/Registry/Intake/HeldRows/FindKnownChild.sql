-- Does an infant other than these carry the record number of the site, or the card?
select exists (select from infant_identifiers i
                where i.kind = 'record_number' and i.site_id = $2 and i.value = $3 and i.superseded_at is null and i.infant_id <> all($1))
    or exists (select from infant_identifiers i
                where i.kind = 'card_id' and i.value = $4 and i.superseded_at is null and i.infant_id <> all($1))
