-- grain : one row a received row of callbacks
-- key   : batch_no, file, line
-- reads : checked_callbacks, jobs
-- why   : says of each row whether it counts, beside the job that it belongs to; a row without its job waits
create temp table stg_callbacks as
with visits as (
    select
        firm_id, job_id, visit_date,
        cast(greatest(flush_ended_at, coalesce(left_at, flush_ended_at)) as date) as last_day
    from jobs
),
judged as (
    select
        r.firm_id, r.job_id, r.called_back_on, r.cause, r.debris_related,
        r.batch_no, r.batch_id, r.loaded_on, r.file, r.line, r.content,
        j.job_id is null as is_waiting,
        case when r.called_back_on < j.visit_date then 'before visit_date' end as reason,
        'called_back_on' as column_name,
        cast(r.called_back_on as varchar) as value
    from checked_callbacks as r
    left join visits as j on r.firm_id = j.firm_id and r.job_id = j.job_id
),
compared as (
    select
        firm_id, job_id, called_back_on, cause, debris_related,
        batch_no, batch_id, loaded_on, file, line, is_waiting, reason, column_name, value,
        content is not distinct from lag(content) over versions as is_duplicate
    from judged
    window versions as (
        partition by firm_id, job_id, called_back_on, reason is null order by batch_no, file, line
    )
),
ranked as (
    select
        firm_id, job_id, called_back_on, cause, debris_related,
        batch_no, batch_id, loaded_on, file, line, is_waiting, reason, column_name, value, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, called_back_on, reason is null, is_duplicate
            order by batch_no desc, file desc, line desc
        ) as newest
    from compared
)
select
    firm_id, job_id, called_back_on, cause, debris_related,
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
