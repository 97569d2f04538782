-- grain : one row a run of pipe
-- key   : firm_id, job_id, run_no
-- reads : checked_pipe_runs, stg_pipe_runs, stg_spans
-- why   : the pipe runs of known jobs, newest version of each
create table pipe_runs as
select
    r.firm_id, r.job_id, r.run_no, r.material, r.outside_mm, r.length_m
from checked_pipe_runs as r
semi join (select firm_id, job_id from stg_spans where table_name = 'pipe_runs' and status = 'accepted') as s
    on r.firm_id = s.firm_id and r.job_id = s.job_id
union all
select
    r.firm_id, r.job_id, r.run_no, r.material, r.outside_mm, r.length_m
from checked_pipe_runs as r
semi join (select batch_no, source_no, line from stg_pipe_runs where status = 'accepted') as s
    on r.batch_no = s.batch_no and r.source_no = s.source_no and r.line = s.line;
