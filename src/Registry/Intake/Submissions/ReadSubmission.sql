-- A submission as it stands. The columns are those SubmissionRecord reads, in its order.
select s.id, s.state, s.row_count, s.rows_done, s.accepted, s.unchanged, s.rejected, s.held, s.received_at, s.finished_at, s.byte_count,
       s.sha256, s.refusal::text, s.site_id, s.file_name, s.format, s.default_kind, s.gzip, s.encoding, s.sheet,
       m.mapping_id, m.name, m.version, s.still_waiting
  from submissions s
  left join column_mapping_versions m on m.id = s.mapping_version_id
 where s.id = $1
