case when b.born_at is null then '' else
  case width_bucket(extract(epoch from (s.performed_at at time zone @zone) - ((b.born_on + b.born_at) at time zone @zone)) / 3600.0, array[12, 24, 36, 48])
    when 0 then 'under 12 h' when 1 then '12 to 24 h' when 2 then '24 to 36 h' when 3 then '36 to 48 h' else 'from 48 h' end end
