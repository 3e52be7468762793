-- A row an infant, of today's statuses: no number, name, place or day of anybody. The births of a month stand in the order of what the row
-- says, so that their order tells nothing either.
with shown as (
  select to_char(s.born_on, 'YYYY-MM') as birth_month, coalesce(b.sex, '') as sex,
         case when b.gestation_weeks is null then '' when b.gestation_weeks < 32 then 'under_32'
              when b.gestation_weeks < 37 then '32_to_36' else '37_or_more' end as gestation,
         s.screening, s.right_ear, s.left_ear, s.screened_state, s.screened_on - s.born_on as screened_age_days,
         s.hearing, s.laterality, s.right_degree, s.left_degree, s.diagnosed_state, s.diagnosed_on - s.born_on as diagnosed_age_days,
         s.enrolled_state, s.enrolled_on - s.born_on as enrolled_age_days, s.loss as lost_to, coalesce(s.lost_at, '') as lost_at
    from infant_status s
    left join lateral (
      select o.sex, o.gestation_weeks from births o
       where o.infant_id = s.infant_id and o.superseded_at is null order by o.recorded_at desc limit 1) b on true
)
select *, count(*) over (partition by birth_month, sex, gestation, hearing, laterality)::int as alike
  from shown
 order by birth_month, sex, gestation, screening, right_ear, left_ear, screened_state, screened_age_days, hearing, laterality, right_degree,
       left_degree, diagnosed_state, diagnosed_age_days, enrolled_state, enrolled_age_days, lost_to, lost_at;
