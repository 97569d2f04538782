-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, job_ledger
-- why   : the visits of the jobs that one batch brought the version in force of
select
    j.firm_id, j.job_id, j.visit_date,
    cast(greatest(j.flush_ended_at, coalesce(j.left_at, j.flush_ended_at)) as date) as last_day
from jobs as j
semi join
    (select firm_id, job_id from job_ledger where batch_no = $batch_no and table_name = 'jobs' and status = 'accepted')
    as b
    on j.firm_id = b.firm_id and j.job_id = b.job_id
order by j.firm_id, j.job_id;
