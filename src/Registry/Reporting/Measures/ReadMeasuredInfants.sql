-- The infants born in a period, as known at a moment, with what figures are broken down by.
select b.infant_id, s.code, b.county, b.insurance, b.language, b.race_ethnicity, b.maternal_education, b.sex, b.mother_born_on,
       b.born_on, b.residence_state
  from births b
  join sites s on s.id = b.site_id
 where b.born_on between @from and @to and b.born_on <= @as_of
   and b.recorded_at <= @known and (b.superseded_at is null or b.superseded_at > @known)
 order by b.infant_id;
