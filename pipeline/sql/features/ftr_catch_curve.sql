-- grain : one row a weighing that counts
-- key   : firm_id, job_id, catch_no
-- reads : catches, jobs, ftr_job_day, ftr_wet_dry
-- why   : the debris curve of a job: dry mass against flush minutes; of a trap weighed both ways the dry counts
create table ftr_catch_curve as
with counted as (
    select
        firm_id, job_id, catch_no, caught_at, trap, focus_emitter_no, mass_g, weighed,
        trap = 'magnet' or coalesce(sticks_to_magnet, false) as is_magnetic,
        max(case when coalesce(weighed, 'wet') = 'wet' then mass_g end) over same_moment as most_wet_g,
        max(case when weighed = 'dry' then mass_g end) over same_moment as most_dry_g
    from catches
    window same_moment as (partition by firm_id, job_id, trap, caught_at)
),
dried as (
    select
        c.firm_id, c.job_id, c.catch_no, c.caught_at, c.trap, c.focus_emitter_no, c.is_magnetic,
        case
            when c.weighed = 'dry' then c.mass_g
            else c.mass_g / case when c.is_magnetic then w.wet_dry_ratio else w.other_wet_dry_ratio end
        end as dry_g,
        least(greatest(c.caught_at, j.flush_started_at), j.flush_ended_at) as flush_at
    from counted as c
    join jobs as j on c.firm_id = j.firm_id and c.job_id = j.job_id
    join ftr_wet_dry as w on c.firm_id = w.firm_id
    -- of a trap weighed both ways the dry masses count; but 0 g dry beside a wet mass only says: not dried yet
    where
        c.most_wet_g is null or c.most_dry_g is null
        or case
            when c.weighed = 'dry' then c.mass_g > 0 or c.most_wet_g = 0
            else c.most_dry_g = 0 and c.most_wet_g > 0
        end
),
clocked as (
    select
        d.firm_id, d.job_id, d.catch_no, d.caught_at, d.trap, d.focus_emitter_no, d.is_magnetic, d.dry_g,
        -- within a day whose begin nobody knows, minutes are not known either; the first day begins with the flush
        case
            when y.minutes is not null or y.day_no = 1
                then y.minutes_before + date_diff('second', y.first_at, d.flush_at) / 60.0
        end as minutes_since_start
    from dried as d
    join ftr_job_day as y
        on
            d.firm_id = y.firm_id and d.job_id = y.job_id
            and d.flush_at between y.first_at and y.last_at
),
summed as (
    select
        firm_id, job_id, catch_no, caught_at, trap, focus_emitter_no, is_magnetic, minutes_since_start, dry_g,
        minutes_since_start - coalesce(
            lag(minutes_since_start) over (
                partition by firm_id, job_id, trap order by minutes_since_start, caught_at, catch_no
            ),
            0.0
        ) as interval_minutes,
        -- added as whole micrograms: the same to the last digit, wherever the job's rows lie among others
        sum(case when trap = 'magnet' then cast(round(dry_g * 1000000) as bigint) else 0 end) over so_far
            / 1000000000.0 as magnetite_kg,
        sum(case when is_magnetic then 0 else cast(round(dry_g * 1000000) as bigint) end) over so_far
            / 1000000000.0 as non_magnetic_kg,
        sum(case when trap = 'magnet' then cast(round(dry_g * 1000000) as bigint) else 0 end) over whole_job
            / 1000000000.0 as total_kg
    from clocked
    window so_far as (
        partition by firm_id, job_id order by minutes_since_start, caught_at, catch_no
        rows between unbounded preceding and current row
    ),
    whole_job as (
        partition by firm_id, job_id order by minutes_since_start, caught_at, catch_no
        rows between unbounded preceding and unbounded following
    )
)
select
    firm_id, job_id, catch_no, caught_at, trap, focus_emitter_no, is_magnetic, minutes_since_start, interval_minutes, dry_g,
    magnetite_kg as cumulative_magnetite_kg,
    non_magnetic_kg as cumulative_non_magnetic_kg,
    case when total_kg > 0 then magnetite_kg / total_kg end as share_of_magnetite
from summed
order by firm_id, job_id, minutes_since_start, caught_at, catch_no;
