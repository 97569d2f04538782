-- grain : one row a job and source of jobs
-- key   : firm_id, job_id, batch_no, source_no
-- reads : checked_spans
-- why   : a job that came once counts as it is; one that came again, or twice in a file, is compared row by row
create temp table stg_job_spans as
with counted as (
    select
        batch_no, source_no, table_name, firm_id, job_id, rows, is_tidy,
        count(*) over (partition by firm_id, job_id) as sources
    from checked_spans
    where table_name = 'jobs'
)
select
    batch_no, source_no, table_name, firm_id, job_id, rows,
    case when sources = 1 and is_tidy then 'accepted' else 'compared' end as status
from counted;
