-- grain : one row a received row of a job whose pipe_runs must be compared
-- key   : batch_no, source_no, line
-- reads : checked_pipe_runs, checked_rejects, stg_spans, stg_visits
-- why   : says of each such row whether it counts; jobs that came once and in order need no comparing
create temp table stg_pipe_runs as
with compared_jobs as (
    select distinct firm_id, job_id from stg_spans
    where table_name = 'pipe_runs' and status = 'compared'
),
worded as (
    select
        r.firm_id, r.job_id, r.run_no, r.batch_no, r.source_no, r.line,
        v.job_id is null as is_waiting,
        concat_ws(
            chr(31),
            coalesce(cast(r.material as varchar), ''), coalesce(cast(r.outside_mm as varchar), ''),
            coalesce(cast(r.length_m as varchar), '')
        ) as content
    from checked_pipe_runs as r
    semi join compared_jobs as c on r.firm_id = c.firm_id and r.job_id = c.job_id
    anti join checked_rejects as x
        on r.batch_no = x.batch_no and r.source_no = x.source_no and r.line = x.line
    left join stg_visits as v on r.firm_id = v.firm_id and r.job_id = v.job_id
),
versions as (
    select
        firm_id, job_id, run_no, batch_no, source_no, line, is_waiting,
        content is not distinct from lag(content) over earlier as is_duplicate
    from worded
    window earlier as (partition by firm_id, job_id, run_no order by batch_no, source_no, line)
),
ranked as (
    select
        firm_id, job_id, run_no, batch_no, source_no, line, is_waiting, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, run_no, is_duplicate
            order by batch_no desc, source_no desc, line desc
        ) as newest
    from versions
)
select
    firm_id, job_id, batch_no, source_no, line,
    case
        when is_duplicate then 'duplicate'
        when newest > 1 then 'superseded'
        when is_waiting then 'waiting'
        else 'accepted'
    end as status
from ranked;
