insert into column_mapping_versions (id, mapping_id, version, site_id, name, header_sha256, document, retired, created_at, created_by)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
