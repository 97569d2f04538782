-- grain : one row a warning on an accepted row
-- key   : batch_id, file, table_name, line, column_name, reason
-- reads : checked_warnings, checked_sources, stg_job_spans, stg_spans, stg_jobs, stg_emitters, stg_pipe_runs, stg_catches, stg_readings, stg_callbacks
-- why   : values that load but deserve a look, only where the row counts
create table row_warnings as
with whole as (
    select batch_no, source_no, firm_id, job_id from stg_job_spans where status = 'accepted'
    union all
    select batch_no, source_no, firm_id, job_id from stg_spans where status = 'accepted'
),
compared as (
    select batch_no, source_no, line from stg_jobs where status = 'accepted'
    union all
    select batch_no, source_no, line from stg_emitters where status = 'accepted'
    union all
    select batch_no, source_no, line from stg_pipe_runs where status = 'accepted'
    union all
    select batch_no, source_no, line from stg_catches where status = 'accepted'
    union all
    select batch_no, source_no, line from stg_readings where status = 'accepted'
    union all
    select batch_no, source_no, line from stg_callbacks where status = 'accepted'
)
select
    s.batch_id, s.file, s.table_name, w.line, w.column_name, w.value, w.reason, w.firm_id, w.job_id
from checked_warnings as w
join checked_sources as s on w.batch_no = s.batch_no and w.source_no = s.source_no
left join whole as h
    on
        w.batch_no = h.batch_no and w.source_no = h.source_no
        and w.firm_id = h.firm_id and w.job_id = h.job_id
left join compared as c
    on w.batch_no = c.batch_no and w.source_no = c.source_no and w.line = c.line
where h.job_id is not null or c.line is not null;
