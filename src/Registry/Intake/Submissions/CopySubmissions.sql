copy submissions (
  id, site_id, format, state, default_kind, received_at, site_key_id, person_id, idempotency_key, file_name, sha256, byte_count,
  row_count, rows_done, accepted, unchanged, rejected, held, still_waiting, refusal, finished_at, gzip, encoding, sheet, mapping_version_id,
  sent_as)
from stdin (format binary)
