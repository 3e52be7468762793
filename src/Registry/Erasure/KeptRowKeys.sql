-- An infant, locked; what it was ever known by; and whom its births named.
select from infants where id = @infant for no key update;
select kind, site_id, value from infant_identifiers where infant_id = @infant;
select distinct born_on, mother_family_key from births where infant_id = @infant and mother_family_key is not null;
