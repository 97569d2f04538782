-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs
-- why   : the visits of some jobs, named by two lists of equal length
select
    j.firm_id, j.job_id, j.visit_date,
    cast(greatest(j.flush_ended_at, coalesce(j.left_at, j.flush_ended_at)) as date) as last_day
from jobs as j
semi join (select unnest($firms) as firm_id, unnest($jobs) as job_id) as n
    on j.firm_id = n.firm_id and j.job_id = n.job_id
order by j.firm_id, j.job_id;
