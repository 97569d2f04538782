-- grain : one row a job and day on site
-- key   : firm_id, job_id, day_no
-- reads : jobs, catches, readings
-- why   : the flush clock: minutes with nights left out, from what was logged on each day
create table ftr_job_day as
with moments as (
    select firm_id, job_id, flush_started_at as moment from jobs
    union all
    select firm_id, job_id, flush_ended_at as moment from jobs
    union all
    select firm_id, job_id, caught_at as moment from catches
    union all
    select firm_id, job_id, read_at as moment from readings
),
of_the_flush as (
    select m.firm_id, m.job_id, m.moment, cast(m.moment as date) as on_day
    from moments as m
    join jobs as j on m.firm_id = j.firm_id and m.job_id = j.job_id
    where m.moment between j.flush_started_at and j.flush_ended_at
),
days as (
    select
        firm_id, job_id, on_day, min(moment) as first_at, max(moment) as last_at,
        row_number() over (partition by firm_id, job_id order by on_day) as day_no,
        count(*) over (partition by firm_id, job_id) as day_count
    from of_the_flush
    group by firm_id, job_id, on_day
),
opened as (
    -- a day known by one moment only: the first day runs to 16:30, a later one from 08:00 (stated rule)
    select
        firm_id, job_id, day_no,
        case
            when first_at = last_at and day_no > 1
                then least(last_at, cast(on_day as timestamp) + interval 8 hour)
            else first_at
        end as first_at,
        case
            when first_at = last_at and day_no = 1 and day_count > 1
                then greatest(first_at, cast(on_day as timestamp) + interval 990 minute)
            else last_at
        end as last_at
    from days
),
timed as (
    select firm_id, job_id, day_no, first_at, last_at, date_diff('second', first_at, last_at) / 60.0 as minutes
    from opened
)
select
    firm_id, job_id, day_no, first_at, last_at,
    coalesce(
        sum(cast(round(minutes * 60) as bigint)) over (  -- whole seconds: the same in any order of adding
            partition by firm_id, job_id order by day_no rows between unbounded preceding and 1 preceding
        ) / 60.0,
        0.0
    ) as minutes_before,
    minutes
from timed
order by firm_id, job_id, day_no;
