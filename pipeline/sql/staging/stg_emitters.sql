-- grain : one row a received row of a job whose emitters must be compared
-- key   : batch_no, source_no, line
-- reads : checked_emitters, checked_rejects, stg_spans, stg_visits
-- why   : says of each such row whether it counts; jobs that came once and in order need no comparing
create temp table stg_emitters as
with compared_jobs as (
    select distinct firm_id, job_id from stg_spans
    where table_name = 'emitters' and status = 'compared'
),
worded as (
    select
        r.firm_id, r.job_id, r.emitter_no, r.batch_no, r.source_no, r.line,
        v.job_id is null as is_waiting,
        concat_ws(
            chr(31),
            coalesce(cast(r.emitter_kind as varchar), ''), coalesce(cast(r.room as varchar), ''),
            coalesce(cast(r.height_mm as varchar), ''), coalesce(cast(r.length_mm as varchar), ''),
            coalesce(cast(r.floor_level as varchar), ''),
            coalesce(cast(r.tail_bore_mm as varchar), ''), coalesce(cast(r.valve_kind as varchar), ''),
            coalesce(cast(r.cold_at_survey as varchar), ''), coalesce(cast(r.top_before_c as varchar), ''),
            coalesce(cast(r.bottom_before_c as varchar), ''), coalesce(cast(r.top_after_c as varchar), ''),
            coalesce(cast(r.bottom_after_c as varchar), '')
        ) as content
    from checked_emitters as r
    semi join compared_jobs as c on r.firm_id = c.firm_id and r.job_id = c.job_id
    anti join checked_rejects as x
        on r.batch_no = x.batch_no and r.source_no = x.source_no and r.line = x.line
    left join stg_visits as v on r.firm_id = v.firm_id and r.job_id = v.job_id
),
versions as (
    select
        firm_id, job_id, emitter_no, batch_no, source_no, line, is_waiting,
        content is not distinct from lag(content) over earlier as is_duplicate
    from worded
    window earlier as (partition by firm_id, job_id, emitter_no order by batch_no, source_no, line)
),
ranked as (
    select
        firm_id, job_id, emitter_no, batch_no, source_no, line, is_waiting, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, emitter_no, is_duplicate
            order by batch_no desc, source_no desc, line desc
        ) as newest
    from versions
)
select
    firm_id, job_id, batch_no, source_no, line,
    case
        when is_duplicate then 'duplicate'
        when newest > 1 then 'superseded'
        when is_waiting then 'waiting'
        else 'accepted'
    end as status
from ranked;
