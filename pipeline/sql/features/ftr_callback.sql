-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, callbacks, follow_up_end
-- why   : callbacks within 365 days with censoring; debris or not by the log, else by the cause
create table ftr_callback as
with undated as (
    -- firms of whose jobs one came back and nobody wrote down when: where only yes or no is known neither counts, else
    -- the jobs that did not come back would be watched, and those that did would be missing
    select distinct j.firm_id
    from jobs as j
    anti join callbacks as c on j.firm_id = c.firm_id and j.job_id = c.job_id
    where j.came_back
),
followed as (
    -- a job that states no end has the firm's: it is never watched for longer because it came back; what is stated
    -- counts to the last day on which the firm said anything of it
    select
        j.firm_id, j.job_id, j.visit_date,
        case
            when j.came_back is not null and u.firm_id is not null then 0
            else greatest(
                date_diff(
                    'day', j.visit_date,
                    case
                        when j.followed_until is null then e.callbacks_known_to
                        else least(j.followed_until, greatest(j.loaded_on, e.callbacks_known_to))
                    end
                ),
                0
            )
        end as followed_days
    from jobs as j
    left join follow_up_end as e on j.firm_id = e.firm_id
    left join undated as u on j.firm_id = u.firm_id
),
judged as (
    select
        c.firm_id, c.job_id, f.followed_days,
        date_diff('day', f.visit_date, c.called_back_on) as day,
        coalesce(
            c.debris_related,
            case
                when c.cause in ('blockage', 'cold_emitter', 'noise', 'pump') then true
                when c.cause in ('leak', 'other') then false
            end
        ) as is_debris
    from callbacks as c
    join followed as f on c.firm_id = f.firm_id and c.job_id = f.job_id
),
firsts as (
    select
        firm_id, job_id,
        min(day) filter (where is_debris and day <= followed_days) as first_debris_day,
        min(day) filter (where not is_debris and day <= followed_days) as first_other_day,
        min(day) filter (where is_debris is null and day <= followed_days) as first_unknown_day,
        min(day) filter (where day > followed_days) as first_later_day
    from judged
    group by firm_id, job_id
)
select
    f.firm_id, f.job_id, f.followed_days, c.first_debris_day, c.first_other_day, c.first_unknown_day,
    least(365, f.followed_days, coalesce(c.first_debris_day, 365)) as observed_days,
    case
        when c.first_debris_day <= 365 then true
        when f.followed_days >= 365 then false
    end as has_debris_callback_365,
    f.followed_days < 365 and c.first_debris_day is null as is_censored_365,
    coalesce(c.first_later_day <= 365, false) as has_later_callback_365
from followed as f
left join firsts as c on f.firm_id = c.firm_id and f.job_id = c.job_id
order by f.firm_id, f.job_id;
