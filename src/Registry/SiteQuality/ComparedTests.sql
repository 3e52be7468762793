-- A site's tests whose bands were reported and whose outcome a criterion can speak of.
select t.screening_id, t.outcome, t.method, t.instrument, d.bands
  from counted_tests t
 cross join lateral (select bands from test_details where screening_id = t.screening_id offset 0) d
 where t.site_id = @site and (@as_of::date is null and t.known_until is null
     or t.known_from <= @as_of and (t.known_until is null or t.known_until > @as_of))
   and t.performed_at >= @from and (case when @by_birth then t.born_on between @from and @to else t.performed_at < @to::date + 1 end)
   and t.outcome in ('pass', 'refer') and d.bands is not null
