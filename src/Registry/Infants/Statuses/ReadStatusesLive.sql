-- Infants by what their statuses say, of a snapshot; see ReadStatusCounts.sql.
select {by}, counted, state, closed, count(*)
  from (
    select s.birth_site_id as site_id, s.born_on, x.counted, x.state, x.closed
      from {statuses} s {cells}
     where {kept} and x.counted = any (@figures) and s.born_on between @from and @to
       and (@site::text is null or s.birth_site_id = (select id from sites where code = @site))
  ) counted
 group by 1, 2, 3, 4
