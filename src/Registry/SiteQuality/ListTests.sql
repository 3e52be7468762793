-- The attempts behind a number, newest first; the placeholders are Attempts.sql and the visibility rule on a.infant_id.
-- @show: all, an outcome, a reason, referred (an ear's last valid result, when that was a refer) or early_first (an infant's first
-- attempt, when it was early for the method); tests compared with the site's criterion, or received late, are given by their ids.
with attempts as (
{attempts}
), ranked as (
  select a.*, a.outcome <> 'no_valid_result'
           and row_number() over (partition by a.infant_id, a.ear order by (a.outcome = 'no_valid_result'), a.performed_at desc, a.id) = 1 as decides,
         row_number() over (partition by a.infant_id order by a.performed_at, a.id) = 1 as first
    from attempts a
   where (@unit::text is null or a.unit = @unit) and {visible}
), shown as (
  select * from ranked r
   where @show = 'all' or r.outcome = @show or r.reason = @show
      or (@show = 'referred' and r.decides and r.outcome = 'refer') or (@show = 'early_first' and r.first and r.early)
      or r.id = any(@ids)
)
select id, infant_id, performed_at, ear, method, outcome, reason, instrument, probe, screener, age_hours::float8,
       count(*) over ()::int as tests, (select count(distinct infant_id)::int from shown) as infants
  from shown
 order by performed_at desc, id desc offset @skip limit @take;
