-- grain : one row a received row of emitters
-- key   : batch_no, file, line
-- reads : checked_emitters, jobs
-- why   : says of each row whether it counts, beside the job that it belongs to; a row without its job waits
create temp table stg_emitters as
with visits as (
    select
        firm_id, job_id, visit_date,
        cast(greatest(flush_ended_at, coalesce(left_at, flush_ended_at)) as date) as last_day
    from jobs
),
judged as (
    select
        r.firm_id, r.job_id, r.emitter_no, r.emitter_kind, r.height_mm, r.length_mm, r.floor_level,
        r.tail_bore_mm, r.cold_at_survey,
        r.batch_no, r.batch_id, r.loaded_on, r.file, r.line, r.content,
        j.job_id is null as is_waiting,
        cast(null as varchar) as reason,
        cast(null as varchar) as column_name,
        cast(null as varchar) as value
    from checked_emitters as r
    left join visits as j on r.firm_id = j.firm_id and r.job_id = j.job_id
),
compared as (
    select
        firm_id, job_id, emitter_no, emitter_kind, height_mm, length_mm, floor_level, tail_bore_mm,
        cold_at_survey,
        batch_no, batch_id, loaded_on, file, line, is_waiting, reason, column_name, value,
        content is not distinct from lag(content) over versions as is_duplicate
    from judged
    window versions as (
        partition by firm_id, job_id, emitter_no, reason is null order by batch_no, file, line
    )
),
ranked as (
    select
        firm_id, job_id, emitter_no, emitter_kind, height_mm, length_mm, floor_level, tail_bore_mm,
        cold_at_survey,
        batch_no, batch_id, loaded_on, file, line, is_waiting, reason, column_name, value, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, emitter_no, reason is null, is_duplicate
            order by batch_no desc, file desc, line desc
        ) as newest
    from compared
)
select
    firm_id, job_id, emitter_no, emitter_kind, height_mm, length_mm, floor_level, tail_bore_mm,
    cold_at_survey,
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
