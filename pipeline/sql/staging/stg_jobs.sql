-- grain : one row a received row of a job whose jobs must be compared
-- key   : batch_no, source_no, line
-- reads : stg_job_words
-- why   : says of each such row whether it counts; jobs that came once and in order need no comparing
create temp table stg_jobs as
with versions as (
    select
        firm_id, job_id, batch_no, source_no, line,
        content is not distinct from lag(content) over earlier as is_duplicate
    from stg_job_words
    window earlier as (partition by firm_id, job_id order by batch_no, source_no, line)
),
ranked as (
    select
        firm_id, job_id, batch_no, source_no, line, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, is_duplicate
            order by batch_no desc, source_no desc, line desc
        ) as newest
    from versions
)
select
    firm_id, job_id, batch_no, source_no, line,
    case
        when is_duplicate then 'duplicate'
        when newest > 1 then 'superseded'
        else 'accepted'
    end as status
from ranked;
