-- grain : one row a job and day of its flush, which may run past midnight
-- key   : firm_id, job_id, day_no
-- reads : site_days
-- why   : the flush clock: minutes by day with nights left out; what nobody can know is empty, and so is all after it
create table ftr_job_day as
with flushed as (
    select
        firm_id, job_id, flow_first_at as first_at, flow_last_at as last_at, flow_seconds,
        row_number() over (partition by firm_id, job_id order by site_day) as day_no
    from site_days
    where flow_first_at is not null
),
summed as (
    -- whole seconds add up the same in any order
    select
        firm_id, job_id, day_no, first_at, last_at, flow_seconds,
        coalesce(sum(flow_seconds) over before_it, 0) as seconds_before,
        count(flow_seconds) over before_it as known_before
    from flushed
    window before_it as (
        partition by firm_id, job_id order by day_no rows between unbounded preceding and 1 preceding
    )
)
select
    firm_id, job_id, day_no, first_at, last_at,
    case when known_before = day_no - 1 then cast(seconds_before as bigint) / 60.0 end as minutes_before,
    flow_seconds / 60.0 as minutes
from summed
order by firm_id, job_id, day_no;
