-- The tests behind a number; {visible} is the visibility rule on t.infant_id, {unit} the group of a test (ScreenGrouping), {part} whether it
-- belongs to the part asked for; what is made of them stands last (TestsSql). What counts infants is shown by the group, part and day of their
-- first attempt at the site.
-- @show is one of ListTests.Shows; tests compared with the site's criterion are given by their ids, skipped ones by the days they were made
-- and received on.
with known as (
  select t.*, t.performed_at::date as tested_on, {unit} as unit, {part} as in_part from counted_tests t
   where t.site_id = @site and (case when @by_birth then t.born_on between @from and @to else t.performed_at >= @from end)
     and (@as_of::date is null and t.known_until is null
       or t.known_from <= @as_of and (t.known_until is null or t.known_until > @as_of))
     and {visible}
), placed as (
  select k.*, count(*) filter (where k.decides) over (partition by k.infant_id) as decided,
         count(*) filter (where k.decides and k.outcome = 'refer') over (partition by k.infant_id) as referred,
         case when @of_infant then f.in_part else k.in_part end as counted_in_part,
         case when @of_infant then f.unit else k.unit end as counted_in, case when @of_infant then k.first_on else k.tested_on end as day
    from known k
    left join known f on @of_infant and f.infant_id = k.infant_id and f.is_first
), shown as (
  select * from placed t
   where (@unit::text is null or t.counted_in = @unit) and t.counted_in_part
     and case when @by_birth then t.born_on else t.day end between @from and @to
     and case @show
           when 'all' then true
           when 'pass' then t.outcome = 'pass'
           when 'refer' then t.outcome = 'refer'
           when 'no_valid_result' then t.outcome = 'no_valid_result'
           when 'no_seal' then t.outcome = 'no_valid_result' and t.reason = 'no_seal'
           when 'noise' then t.outcome = 'no_valid_result' and t.reason = 'noise'
           when 'other_reason' then t.outcome = 'no_valid_result' and t.reason not in ('no_seal', 'noise')
           when 'late' then t.received_at::date - t.performed_at::date > @within_days
           when 'infants' then t.is_first
           when 'concluded' then t.decides
           when 'referred' then t.decides and t.outcome = 'refer'
           when 'referred_both' then t.decides and t.referred = 2
           when 'both_ears' then t.is_first and t.decided = 2
           when 'incomplete' then t.is_first and t.decided < 2
           when 'with_age' then t.is_first and t.age_hours is not null
           when 'early_first' then t.is_first and t.early
           when 'first_day' then t.is_first and t.age_hours < 24
           when 'session_with_age' then t.is_first and t.in_first_session and t.age_hours is not null and not t.in_nicu
           when 'early_session' then t.is_first and t.in_first_session and t.early and not t.in_nicu
           when 'session_no_seal' then t.in_first_session and t.outcome = 'no_valid_result' and t.reason = 'no_seal'
           when 'session_noise' then t.in_first_session and t.outcome = 'no_valid_result' and t.reason = 'noise'
           when 'session_other_reason' then t.in_first_session and t.outcome = 'no_valid_result' and t.reason not in ('no_seal', 'noise')
           when 'sessions' then t.in_first_session and t.is_first_valid
           when 'first_refer' then t.in_first_session and t.is_first_valid and t.outcome = 'refer'
           else t.screening_id = any(@ids) or exists (select from unnest(@tested, @received) d (tested, received)
             where d.tested = t.tested_on and d.received = t.received_at::date)
         end
)
{answer};
