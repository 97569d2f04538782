-- grain : one row a job and day on site, which may run past midnight
-- key   : firm_id, job_id, site_day
-- reads : logged_days, jobs
-- why   : minutes of each day: of a day known by one moment only, working hours stand for the other end (08:00 to
--         16:30, stated rule); where they cannot, or a whole day lies open beside it, seconds are empty, never 0
create temp table site_days as
with apart as (
    select
        firm_id, job_id, site_day, lag(last_on) over of_job as before_on,
        lag(is_single) over of_job as is_single_before,
        lag(flow_first_at) over of_job is not null as has_flow_before
    from logged_days
    window of_job as (partition by firm_id, job_id order by site_day)
),
placed as (
    select
        d.firm_id, d.job_id, d.site_day, d.first_on, d.first_at, d.last_at, d.flow_first_at, d.flow_last_at,
        d.is_single, coalesce(d.flow_first_at, d.first_at) as moment,
        -- the day on which the flow begins, or one before it, ends at 16:30; a later one begins at 08:00
        d.is_single and coalesce(d.flow_first_at, d.first_at) <= j.flush_started_at as is_open_ended,
        coalesce(date_diff('day', a.before_on, d.first_on) > 1 and (d.is_single or a.is_single_before), false) as is_lost,
        a.has_flow_before
    from logged_days as d
    join jobs as j on d.firm_id = j.firm_id and d.job_id = j.job_id
    join apart as a on d.firm_id = a.firm_id and d.job_id = a.job_id and d.site_day = a.site_day
),
opened as (
    select
        firm_id, job_id, site_day, first_at, last_at, flow_first_at, flow_last_at, is_lost, has_flow_before,
        case
            when is_single and not is_open_ended and moment > cast(cast(moment as date) as timestamp) + interval 8 hour
                then cast(cast(moment as date) as timestamp) + interval 8 hour
            when not is_single or is_open_ended then moment
        end as begins_at,
        case
            when is_open_ended and moment < cast(first_on as timestamp) + interval 990 minute
                then cast(first_on as timestamp) + interval 990 minute
            when not is_open_ended then coalesce(flow_last_at, last_at)
        end as ends_at
    from placed
)
select
    firm_id, job_id, site_day,
    case when flow_first_at is not null then coalesce(begins_at, flow_first_at) end as flow_first_at,
    case when flow_first_at is not null then coalesce(ends_at, flow_last_at) end as flow_last_at,
    case
        when flow_first_at is not null and not (is_lost and has_flow_before)
            then date_diff('second', begins_at, ends_at)
    end as flow_seconds,
    case
        when not is_lost and begins_at is not null and ends_at is not null
            then date_diff('second', least(first_at, begins_at), greatest(last_at, ends_at))
    end as site_seconds
from opened;
