-- grain : one row a job, clock hour and emitter in focus
-- key   : firm_id, job_id, hour_at, focus_emitter_no
-- reads : readings, jobs
-- why   : one pass over all readings, so that the warnings on them are drawn from few rows; readings more
--         than an hour outside the flush count as early or late; a flow above the machine's maximum by more
--         than a meter's error (5 %) counts as too fast (common practice, no source)
create temp table stg_reading_hours as
with judged as (
    select
        r.firm_id, r.job_id, r.focus_emitter_no, r.read_at, r.flow_l_min, j.machine_max_flow_l_min,
        r.read_at < j.flush_started_at - interval 60 minute as is_early,
        r.read_at > j.flush_ended_at + interval 60 minute as is_late,
        r.flow_l_min > 1.05 * j.machine_max_flow_l_min as is_fast
    from readings as r
    join jobs as j on r.firm_id = j.firm_id and r.job_id = j.job_id
)
select
    firm_id, job_id, date_trunc('hour', read_at) as hour_at, focus_emitter_no,
    count(*) as readings, min(read_at) as first_at, max(read_at) as last_at,
    count(*) filter (where is_early) as early, min(read_at) filter (where is_early) as early_at,
    count(*) filter (where is_late) as late, min(read_at) filter (where is_late) as late_at,
    count(*) filter (where is_fast) as fast, min(read_at) filter (where is_fast) as fast_at,
    max(flow_l_min) as highest_flow_l_min, max(machine_max_flow_l_min) as machine_max_flow_l_min
from judged
group by firm_id, job_id, date_trunc('hour', read_at), focus_emitter_no;
