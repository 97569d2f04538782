-- grain : one row a source, table, job and state
-- key   : batch_no, source_no, table_name, firm_id, job_id, status
-- reads : stg_job_spans, stg_spans, stg_jobs, stg_emitters, stg_pipe_runs, stg_catches, stg_readings, stg_callbacks
-- why   : where the rows of each job came from and what became of them
create table job_ledger as
with whole as (
    select batch_no, source_no, table_name, firm_id, job_id, status, rows
    from stg_job_spans
    where status <> 'compared'
    union all
    select batch_no, source_no, table_name, firm_id, job_id, status, rows
    from stg_spans
    where status <> 'compared'
),
compared as (
    select batch_no, source_no, 'jobs' as table_name, firm_id, job_id, status, count(*) as rows
    from stg_jobs
    group by batch_no, source_no, firm_id, job_id, status
    union all
    select batch_no, source_no, 'emitters' as table_name, firm_id, job_id, status, count(*) as rows
    from stg_emitters
    group by batch_no, source_no, firm_id, job_id, status
    union all
    select batch_no, source_no, 'pipe_runs' as table_name, firm_id, job_id, status, count(*) as rows
    from stg_pipe_runs
    group by batch_no, source_no, firm_id, job_id, status
    union all
    select batch_no, source_no, 'catches' as table_name, firm_id, job_id, status, count(*) as rows
    from stg_catches
    group by batch_no, source_no, firm_id, job_id, status
    union all
    select batch_no, source_no, 'readings' as table_name, firm_id, job_id, status, count(*) as rows
    from stg_readings
    group by batch_no, source_no, firm_id, job_id, status
    union all
    select batch_no, source_no, 'callbacks' as table_name, firm_id, job_id, status, count(*) as rows
    from stg_callbacks
    group by batch_no, source_no, firm_id, job_id, status
)
select batch_no, source_no, table_name, firm_id, job_id, status, rows from whole
union all
select batch_no, source_no, table_name, firm_id, job_id, status, rows from compared;
