-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs
-- why   : from when to when something can have happened on a visit: first day to the end of the last day on site,
--         00:00 after it included; an hour after the flow has ended always counts, the traps are opened a last time
create temp table stg_visits as
select
    firm_id, job_id,
    cast(visit_date as timestamp) as opens_at,
    coalesce(
        greatest(
            cast(
                cast(greatest(flush_ended_at, coalesce(left_at, flush_ended_at)) - interval 1 microsecond as date)
                as timestamp
            ) + interval 1 day,
            flush_ended_at + interval 60 minute
        ),
        -- of a job without flush times five days on site are the most, as with one that has them
        cast(visit_date as timestamp) + interval 6 day
    ) as closes_at
from jobs;
