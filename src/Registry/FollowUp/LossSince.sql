-- Infants lost and not found again, and infants found again, since a day; the placeholder is the visibility rule on f.infant_id.
select count(*) filter (where found_on >= @since and recovered_on is null)::int,
       count(*) filter (where recovered_on >= @since)::int
  from loss_findings f
 where {visible};
