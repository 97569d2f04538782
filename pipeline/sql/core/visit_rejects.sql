-- grain : one row a row rejected because of its job
-- key   : batch_no, source_no, line
-- reads : stg_catches, stg_readings, stg_callbacks
-- why   : rows that are right by themselves but lie outside the visit they belong to
create table visit_rejects as
with judged as (
    select batch_no, source_no, line, firm_id, job_id, column_name, value, reason, status
    from stg_catches
    union all
    select batch_no, source_no, line, firm_id, job_id, column_name, value, reason, status
    from stg_readings
    union all
    select batch_no, source_no, line, firm_id, job_id, column_name, value, reason, status
    from stg_callbacks
)
select batch_no, source_no, line, firm_id, job_id, column_name, value, reason
from judged
where status = 'rejected';
