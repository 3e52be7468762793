-- Births of a period, current at a moment, of infants that bore a certificate number of a vital-records office then.
select count(*)::int
  from births b
 where b.born_on between $1 and $2 and b.recorded_at <= $3 and (b.superseded_at is null or b.superseded_at > $3)
   and exists (
     select from infant_identifiers i join sites s on s.id = i.site_id
      where i.infant_id = b.infant_id and i.kind = 'record_number' and s.kind = 'vital_records'
        and i.recorded_at <= $3 and (i.superseded_at is null or i.superseded_at > $3));
