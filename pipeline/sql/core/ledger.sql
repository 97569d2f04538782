-- grain : one row a batch, file and table
-- key   : batch_id, file, table_name
-- reads : checked_counts, checked_rejects, stg_jobs, stg_emitters, stg_pipe_runs, stg_catches, stg_readings, stg_callbacks
-- why   : every row ever received ends in exactly one of five states; the counts add up
create table ledger as
with judged as (
    select batch_id, file, 'jobs' as table_name, status from stg_jobs
    union all
    select batch_id, file, 'emitters' as table_name, status from stg_emitters
    union all
    select batch_id, file, 'pipe_runs' as table_name, status from stg_pipe_runs
    union all
    select batch_id, file, 'catches' as table_name, status from stg_catches
    union all
    select batch_id, file, 'readings' as table_name, status from stg_readings
    union all
    select batch_id, file, 'callbacks' as table_name, status from stg_callbacks
),
counted as (
    select
        batch_id, file, table_name,
        count(*) filter (where status = 'accepted') as accepted,
        count(*) filter (where status = 'rejected') as rejected,
        count(*) filter (where status = 'duplicate') as duplicates,
        count(*) filter (where status = 'waiting') as waiting,
        count(*) filter (where status = 'superseded') as superseded
    from judged
    group by batch_id, file, table_name
),
refused as (
    select batch_id, file, table_name, count(distinct line) as rejected
    from checked_rejects
    group by batch_id, file, table_name
)
select
    n.batch_id, n.batch_no, n.file, n.table_name, n.rows,
    coalesce(c.accepted, 0) as accepted,
    coalesce(c.rejected, 0) + coalesce(r.rejected, 0) as rejected,
    coalesce(c.duplicates, 0) as duplicates,
    coalesce(c.waiting, 0) as waiting,
    coalesce(c.superseded, 0) as superseded
from checked_counts as n
left join counted as c
    on n.batch_id = c.batch_id and n.file = c.file and n.table_name = c.table_name
left join refused as r
    on n.batch_id = r.batch_id and n.file = r.file and n.table_name = r.table_name
order by n.batch_no, n.file, n.table_name;
