-- grain : one row a run of pipe
-- key   : firm_id, job_id, run_no
-- reads : stg_pipe_runs
-- why   : the pipe runs of known jobs, newest version of each
create table pipe_runs as
select
    firm_id, job_id, run_no, material, outside_mm, length_m
from stg_pipe_runs
where status = 'accepted'
order by firm_id, job_id, run_no;
