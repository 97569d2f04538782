-- grain : one row a fault of a rejected row
-- key   : batch_id, file, table_name, line, column_name, reason
-- reads : checked_rejects, stg_catches, stg_readings, stg_callbacks
-- why   : what could not be used and why, faults within a row and against its job together
create table rejects as
with against_the_job as (
    select batch_id, batch_no, file, 'catches' as table_name, line, column_name, value, reason, status
    from stg_catches
    union all
    select batch_id, batch_no, file, 'readings' as table_name, line, column_name, value, reason, status
    from stg_readings
    union all
    select batch_id, batch_no, file, 'callbacks' as table_name, line, column_name, value, reason, status
    from stg_callbacks
),
together as (
    select batch_id, batch_no, file, table_name, line, column_name, value, reason from checked_rejects
    union all
    select batch_id, batch_no, file, table_name, line, column_name, value, reason
    from against_the_job
    where status = 'rejected'
)
select batch_id, file, table_name, line, column_name, value, reason
from together
order by batch_no, file, table_name, line, column_name, reason;
