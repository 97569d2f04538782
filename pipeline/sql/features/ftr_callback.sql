-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, callbacks
-- why   : callbacks within 365 days with censoring; debris or not by the log, else by the cause
create table ftr_callback as
with judged as (
    select
        c.firm_id, c.job_id, c.called_back_on,
        date_diff('day', j.visit_date, c.called_back_on) as day,
        coalesce(
            c.debris_related,
            case
                when c.cause in ('blockage', 'cold_emitter', 'noise', 'pump') then true
                when c.cause in ('leak', 'other') then false
            end
        ) as is_debris
    from callbacks as c
    join jobs as j on c.firm_id = j.firm_id and c.job_id = j.job_id
),
firsts as (
    select
        firm_id, job_id,
        min(day) filter (where is_debris) as first_debris_day,
        min(day) filter (where not is_debris) as first_other_day,
        min(day) filter (where is_debris is null) as first_unknown_day,
        max(called_back_on) as last_callback_on
    from judged
    group by firm_id, job_id
),
followed as (
    -- nobody has watched beyond the day of loading; a callback after the stated end of follow-up was evidently
    -- known, so follow-up reaches to it
    select
        j.firm_id, j.job_id, f.first_debris_day, f.first_other_day, f.first_unknown_day,
        date_diff(
            'day', j.visit_date,
            greatest(
                least(coalesce(j.followed_until, j.loaded_on), j.loaded_on),
                coalesce(f.last_callback_on, j.visit_date)
            )
        ) as followed_days
    from jobs as j
    left join firsts as f on j.firm_id = f.firm_id and j.job_id = f.job_id
)
select
    firm_id, job_id, followed_days, first_debris_day, first_other_day, first_unknown_day,
    least(365, followed_days, coalesce(first_debris_day, 365)) as observed_days,
    case
        when first_debris_day <= 365 then true
        when followed_days >= 365 then false
    end as has_debris_callback_365,
    coalesce(first_debris_day > 365, true) and followed_days < 365 as is_censored_365
from followed
order by firm_id, job_id;
