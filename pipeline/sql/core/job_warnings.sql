-- grain : one row a warning on the rows of a job
-- key   : firm_id, job_id, table_name, row_key, column_name, reason
-- reads : stg_catch_warnings, stg_reading_warnings, stg_day_warnings, catches, emitters
-- why   : rows that count but do not agree with the rest of their job: they deserve a look
create table job_warnings as
select firm_id, job_id, 'catches' as table_name, row_key, column_name, value, reason
from stg_catch_warnings
union all
select firm_id, job_id, 'readings' as table_name, row_key, column_name, value, reason
from stg_reading_warnings
union all
select firm_id, job_id, 'jobs' as table_name, row_key, column_name, value, reason
from stg_day_warnings
union all
select distinct
    c.firm_id, c.job_id, 'jobs' as table_name, c.job_id as row_key, '' as column_name,
    cast(null as varchar) as value, 'has catches but no emitters' as reason
from catches as c
anti join emitters as e on c.firm_id = e.firm_id and c.job_id = e.job_id;
