-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs
-- why   : from when to when something can have happened on a visit: first day to the end of the last day on site
create temp table stg_visits as
select
    firm_id, job_id,
    cast(visit_date as timestamp) as opens_at,
    cast(cast(greatest(flush_ended_at, coalesce(left_at, flush_ended_at)) as date) as timestamp)
        + interval 1 day as closes_at
from jobs;
