-- grain : one row a warning on the readings of a job
-- key   : firm_id, job_id, row_key, column_name, reason
-- reads : stg_reading_hours, emitters
-- why   : readings outside the flush, a clock that stands still for hours, a flow that the machine cannot
--         give, an emitter that is not there; one warning a job and rule, at the first reading it is true of
create temp table stg_reading_warnings as
with whole as (
    select
        firm_id, job_id, sum(early) as early, min(early_at) as early_at, sum(late) as late, min(late_at) as late_at,
        sum(fast) as fast, min(fast_at) as fast_at, max(highest_flow_l_min) as highest_flow_l_min,
        max(machine_max_flow_l_min) as machine_max_flow_l_min
    from stg_reading_hours
    group by firm_id, job_id
),
hours as (
    select
        firm_id, job_id, cast(hour_at as date) as on_day, hour_at,
        min(first_at) as first_at, max(last_at) as last_at, sum(readings) as readings
    from stg_reading_hours
    group by firm_id, job_id, hour_at
),
gaps as (
    select
        firm_id, job_id, first_at, lag(last_at) over of_day as before_at,
        sum(readings) over (partition by firm_id, job_id, on_day) as day_readings
    from hours
    window of_day as (partition by firm_id, job_id, on_day order by hour_at)
),
focused as (
    select firm_id, job_id, focus_emitter_no, min(first_at) as first_at, sum(readings) as readings
    from stg_reading_hours
    where focus_emitter_no is not null
    group by firm_id, job_id, focus_emitter_no
),
found as (
    select
        firm_id, job_id, early_at as seen_at, 'read_at' as column_name, cast(null as varchar) as value,
        concat('more than 60 minutes before flush_started_at (readings: ', cast(early as varchar), ')') as reason
    from whole
    where early > 0
    union all
    select
        firm_id, job_id, late_at, 'read_at', null,
        concat('more than 60 minutes after flush_ended_at (readings: ', cast(late as varchar), ')')
    from whole
    where late > 0
    union all
    select
        firm_id, job_id, fast_at, 'flow_l_min', cast(highest_flow_l_min as varchar),
        concat(
            'above the machine''s maximum of ', cast(machine_max_flow_l_min as varchar), ' L/min (readings: ',
            cast(fast as varchar), ', the highest is shown)'
        )
    from whole
    where fast > 0
    union all
    select firm_id, job_id, first_at, 'read_at', null, 'more than 3 hours after the reading before it on that day'
    from gaps
    where day_readings >= 8 and first_at > before_at + interval 3 hour
    union all
    select
        f.firm_id, f.job_id, f.first_at, 'focus_emitter_no', cast(f.focus_emitter_no as varchar),
        concat('not among the emitters of the job (readings: ', cast(f.readings as varchar), ')')
    from focused as f
    semi join emitters as k on f.firm_id = k.firm_id and f.job_id = k.job_id
    anti join emitters as e
        on f.firm_id = e.firm_id and f.job_id = e.job_id and f.focus_emitter_no = e.emitter_no
)
select
    firm_id, job_id, regexp_replace(replace(cast(seen_at as varchar), ' ', 'T'), ':00$', '') as row_key, column_name,
    coalesce(value, regexp_replace(replace(cast(seen_at as varchar), ' ', 'T'), ':00$', '')) as value, reason
from found;
