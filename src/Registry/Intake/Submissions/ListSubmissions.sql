-- The submissions that fit a filter. The first columns are those SubmissionRecord reads, in its order.
select s.id, s.state, s.row_count, s.rows_done, s.accepted, s.unchanged, s.rejected, s.held, s.received_at, s.finished_at, s.byte_count,
       s.sha256, null::text as refusal, s.site_id, s.file_name, s.format, s.default_kind, s.gzip, s.encoding, s.sheet,
       null::uuid as mapping_id, null::text as mapping, null::integer as version, s.still_waiting, site.name as site_name
  from submissions s
  join sites site on site.id = s.site_id
 where ($1::uuid is null or s.site_id = $1)
   and ($2::text is null or s.state = $2)
   and ($3::timestamptz is null or s.received_at >= $3)
   and ($4::timestamptz is null or s.received_at < $4)
   and ($5::text is null
        or case $5 when 'held' then s.held when 'rejected' then s.rejected when 'accepted' then s.accepted
              when 'still_waiting' then s.still_waiting else s.unchanged end > 0)
