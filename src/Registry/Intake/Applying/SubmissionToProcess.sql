-- A submission, with the version of the column mapping it is read with.
select s.site_id, s.state, s.received_at, s.row_count, s.rows_done, s.byte_count,
       s.format, s.default_kind, s.gzip, s.encoding, s.sheet, m.id, m.name, m.version, m.document::text
  from submissions s
  left join column_mapping_versions m on m.id = s.mapping_version_id
 where s.id = $1
