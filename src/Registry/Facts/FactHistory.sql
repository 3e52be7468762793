-- Every fact of one kind an infant has, as known at a moment: closed ones too.
select f.infant_id, f.site_id, {columns}, f.id, f.submission_id, f.row_number, f.recorded_at, f.superseded_at
  from {table} f
  {detail}
 where f.infant_id = @infant and f.recorded_at <= @known
