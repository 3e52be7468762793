-- The infants whose birth that holds is of this day and mother and who bear this number, a record number or a card. Two are enough to know
-- that nobody is meant for certain.
select distinct b.infant_id
  from births b
  join infant_identifiers i on i.infant_id = b.infant_id and i.value = @number and i.superseded_at is null
 where b.born_on = @born and b.mother_family_key = @mother and b.superseded_at is null
 limit 2;
