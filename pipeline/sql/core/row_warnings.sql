-- grain : one row a warning on an accepted row
-- key   : batch_id, file, table_name, line, column_name, reason
-- reads : checked_warnings, stg_jobs, stg_emitters, stg_pipe_runs, stg_catches, stg_readings, stg_callbacks
-- why   : values that load but deserve a look, only where the row counts
create table row_warnings as
with judged as (
    select batch_id, file, 'jobs' as table_name, line, status from stg_jobs
    union all
    select batch_id, file, 'emitters' as table_name, line, status from stg_emitters
    union all
    select batch_id, file, 'pipe_runs' as table_name, line, status from stg_pipe_runs
    union all
    select batch_id, file, 'catches' as table_name, line, status from stg_catches
    union all
    select batch_id, file, 'readings' as table_name, line, status from stg_readings
    union all
    select batch_id, file, 'callbacks' as table_name, line, status from stg_callbacks
)
select w.batch_id, w.file, w.table_name, w.line, w.column_name, w.value, w.reason
from checked_warnings as w
join judged as j
    on
        w.batch_id = j.batch_id and w.file = j.file and w.table_name = j.table_name
        and w.line = j.line
where j.status = 'accepted'
order by w.batch_no, w.file, w.table_name, w.line, w.column_name, w.reason;
