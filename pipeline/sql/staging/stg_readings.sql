-- grain : one row a received row of readings
-- key   : batch_no, file, line
-- reads : checked_readings, jobs
-- why   : says of each row whether it counts, beside the job that it belongs to; a row without its job waits
create temp table stg_readings as
with visits as (
    select
        firm_id, job_id, visit_date,
        cast(greatest(flush_ended_at, coalesce(left_at, flush_ended_at)) as date) as last_day
    from jobs
),
judged as (
    select
        r.firm_id, r.job_id, r.read_at, r.focus_emitter_no, r.flow_l_min, r.flow_temp_c,
        r.return_temp_c, r.turbidity_ntu, r.conductivity_us_cm, r.ph, r.pressure_bar,
        r.batch_no, r.batch_id, r.loaded_on, r.file, r.line, r.content,
        j.job_id is null as is_waiting,
        case
            when r.read_at < cast(j.visit_date as timestamp) then 'before visit_date'
            when r.read_at >= cast(j.last_day as timestamp) + interval 1 day
                then 'after the last day on site'
        end as reason,
        'read_at' as column_name,
        regexp_replace(replace(cast(r.read_at as varchar), ' ', 'T'), ':00$', '') as value
    from checked_readings as r
    left join visits as j on r.firm_id = j.firm_id and r.job_id = j.job_id
),
compared as (
    select
        firm_id, job_id, read_at, focus_emitter_no, flow_l_min, flow_temp_c, return_temp_c,
        turbidity_ntu, conductivity_us_cm, ph, pressure_bar,
        batch_no, batch_id, loaded_on, file, line, is_waiting, reason, column_name, value,
        content is not distinct from lag(content) over versions as is_duplicate
    from judged
    window versions as (
        partition by firm_id, job_id, read_at, reason is null order by batch_no, file, line
    )
),
ranked as (
    select
        firm_id, job_id, read_at, focus_emitter_no, flow_l_min, flow_temp_c, return_temp_c,
        turbidity_ntu, conductivity_us_cm, ph, pressure_bar,
        batch_no, batch_id, loaded_on, file, line, is_waiting, reason, column_name, value, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, read_at, reason is null, is_duplicate
            order by batch_no desc, file desc, line desc
        ) as newest
    from compared
)
select
    firm_id, job_id, read_at, focus_emitter_no, flow_l_min, flow_temp_c, return_temp_c,
    turbidity_ntu, conductivity_us_cm, ph, pressure_bar,
    batch_no, batch_id, loaded_on, file, line,
    case
        when reason is not null then 'rejected'
        when is_duplicate then 'duplicate'
        when newest > 1 then 'superseded'
        when is_waiting then 'waiting'
        else 'accepted'
    end as status,
    column_name, value, reason
from ranked;
