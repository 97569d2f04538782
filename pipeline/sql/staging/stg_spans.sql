-- grain : one row a table, job and source, jobs left out
-- key   : table_name, firm_id, job_id, batch_no, source_no
-- reads : checked_spans, stg_visits
-- why   : the rows of a job that came once, in order and within its visit count or wait together;
--         only those that came again, repeat a key or reach outside the visit are compared row by row
create temp table stg_spans as
with counted as (
    select
        batch_no, source_no, table_name, firm_id, job_id, rows, first_at, last_at, is_tidy,
        count(*) over (partition by table_name, firm_id, job_id) as sources
    from checked_spans
    where table_name <> 'jobs'
)
select
    c.batch_no, c.source_no, c.table_name, c.firm_id, c.job_id, c.rows,
    case
        when c.sources > 1 or not c.is_tidy then 'compared'
        when v.job_id is null then 'waiting'
        when c.first_at < v.opens_at then 'compared'
        when c.last_at > v.closes_at and c.table_name <> 'callbacks' then 'compared'
        else 'accepted'
    end as status
from counted as c
left join stg_visits as v on c.firm_id = v.firm_id and c.job_id = v.job_id;
