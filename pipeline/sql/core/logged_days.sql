-- grain : one row a job and day on site, which may run past midnight
-- key   : firm_id, job_id, site_day
-- reads : jobs, catches, readings
-- why   : the rule of nights, as pipeline/contract/nights.py says it in words: a gap over midnight of 6 hours or more is a
--         night, a shorter one is work, 00:00 belongs to the day before; what was logged from when to when
create temp table logged_days as
with moments as (
    select firm_id, job_id, flush_started_at as moment from jobs
    union all
    select firm_id, job_id, flush_ended_at as moment from jobs
    union all
    select firm_id, job_id, arrived_at as moment from jobs
    union all
    select firm_id, job_id, left_at as moment from jobs
    union all
    select firm_id, job_id, caught_at as moment from catches
    union all
    select firm_id, job_id, read_at as moment from readings
),
calendar as (
    -- by calendar day first: a gap over midnight lies between two of them, so that no window runs over readings
    select
        m.firm_id, m.job_id, cast(m.moment - interval 1 microsecond as date) as on_day,
        min(m.moment) as first_at, max(m.moment) as last_at,
        min(m.moment) filter (where m.moment between j.flush_started_at and j.flush_ended_at) as flow_first_at,
        max(m.moment) filter (where m.moment between j.flush_started_at and j.flush_ended_at) as flow_last_at
    from moments as m
    join jobs as j on m.firm_id = j.firm_id and m.job_id = j.job_id
    where
        m.moment between coalesce(j.arrived_at, j.flush_started_at) and coalesce(j.left_at, j.flush_ended_at)
    group by m.firm_id, m.job_id, cast(m.moment - interval 1 microsecond as date)
),
nights as (
    select
        firm_id, job_id, on_day, first_at, last_at, flow_first_at, flow_last_at,
        case when first_at >= lag(last_at) over of_job + interval 6 hour then 1 else 0 end as is_after_night
    from calendar
    window of_job as (partition by firm_id, job_id order by on_day)
),
numbered as (
    select
        firm_id, job_id, on_day, first_at, last_at, flow_first_at, flow_last_at,
        1 + sum(is_after_night) over (
            partition by firm_id, job_id order by on_day rows between unbounded preceding and current row
        ) as site_day
    from nights
)
select
    firm_id, job_id, cast(site_day as bigint) as site_day, min(on_day) as first_on, max(on_day) as last_on,
    min(first_at) as first_at, max(last_at) as last_at,
    min(flow_first_at) as flow_first_at, max(flow_last_at) as flow_last_at,
    coalesce(min(flow_first_at) = max(flow_last_at), min(first_at) = max(last_at)) as is_single
from numbered
group by firm_id, job_id, site_day;
