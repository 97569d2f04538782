-- grain : one row a received row of a job whose callbacks must be compared
-- key   : batch_no, source_no, line
-- reads : checked_callbacks, checked_rejects, stg_spans, stg_visits
-- why   : says of each such row whether it counts; jobs that came once and in order need no comparing
create temp table stg_callbacks as
with compared_jobs as (
    select distinct firm_id, job_id from stg_spans
    where table_name = 'callbacks' and status = 'compared'
),
worded as (
    select
        r.firm_id, r.job_id, r.called_back_on, r.cause, r.batch_no, r.source_no, r.line,
        v.job_id is null as is_waiting,
        case when r.called_back_on < v.opens_at then 'before visit_date' end as reason,
        'called_back_on' as column_name,
        cast(r.called_back_on as varchar) as value,
        concat_ws(
            chr(31), coalesce(cast(r.debris_related as varchar), ''), coalesce(cast(r.emitter_no as varchar), '')
        ) as content
    from checked_callbacks as r
    semi join compared_jobs as c on r.firm_id = c.firm_id and r.job_id = c.job_id
    anti join checked_rejects as x
        on r.batch_no = x.batch_no and r.source_no = x.source_no and r.line = x.line
    left join stg_visits as v on r.firm_id = v.firm_id and r.job_id = v.job_id
),
versions as (
    select
        firm_id, job_id, called_back_on, cause, batch_no, source_no, line, is_waiting, column_name, value, reason,
        content is not distinct from lag(content) over earlier as is_duplicate
    from worded
    window earlier as (
        partition by firm_id, job_id, called_back_on, cause, reason is null order by batch_no, source_no, line
    )
),
ranked as (
    select
        firm_id, job_id, called_back_on, cause, batch_no, source_no, line, is_waiting, column_name, value, reason, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, called_back_on, cause, reason is null, is_duplicate
            order by batch_no desc, source_no desc, line desc
        ) as newest
    from versions
)
select
    firm_id, job_id, batch_no, source_no, line, column_name, value, reason,
    case
        when reason is not null then 'rejected'
        when is_duplicate then 'duplicate'
        when newest > 1 then 'superseded'
        when is_waiting then 'waiting'
        else 'accepted'
    end as status
from ranked;
