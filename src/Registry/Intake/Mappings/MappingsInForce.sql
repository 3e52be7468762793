-- The newest version of each mapping, unless it is out of use. Other statements read it as "in_force".
select * from (select distinct on (mapping_id) * from column_mapping_versions order by mapping_id, version desc) newest where not retired
