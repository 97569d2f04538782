-- grain : one row a job
-- key   : job_mark
-- reads : jobs
-- why   : the number that stands for a job in debris_curves, in the order of the jobs' keys
select hash(firm_id, job_id) as job_mark from jobs order by firm_id, job_id;
