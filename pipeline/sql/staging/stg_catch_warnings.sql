-- grain : one row a warning on a weighing
-- key   : firm_id, job_id, row_key, column_name, reason
-- reads : catches, jobs, emitters
-- why   : weighings outside the flush, out of order, with the flow on an emitter that is not there, or
--         with a dry mass that its wet twin does not bear out
create temp table stg_catch_warnings as
with placed as (
    select
        c.firm_id, c.job_id, c.catch_no, c.caught_at, j.flush_started_at, j.flush_ended_at,
        lag(c.caught_at) over (partition by c.firm_id, c.job_id order by c.catch_no) as before_at
    from catches as c
    join jobs as j on c.firm_id = j.firm_id and c.job_id = j.job_id
),
timed as (
    -- the traps are opened a last time after the flow has ended: an hour is allowed (stated rule)
    select
        firm_id, job_id, catch_no, caught_at,
        case
            when caught_at < flush_started_at then 'before flush_started_at'
            when caught_at > flush_ended_at + interval 60 minute then 'more than 60 minutes after flush_ended_at'
        end as reason
    from placed
    union all
    select firm_id, job_id, catch_no, caught_at, 'before the weighing with the number before it' as reason
    from placed
    where caught_at < before_at
),
focused as (
    select c.firm_id, c.job_id, c.catch_no, c.focus_emitter_no
    from catches as c
    semi join emitters as k on c.firm_id = k.firm_id and c.job_id = k.job_id
    anti join emitters as e
        on c.firm_id = e.firm_id and c.job_id = e.job_id and c.focus_emitter_no = e.emitter_no
    where c.focus_emitter_no is not null
),
both_ways as (
    -- added as whole micrograms: the same to the last digit, however the rows are shared out
    select
        firm_id, job_id, max(catch_no) filter (where weighed = 'dry') as catch_no,
        sum(cast(round(mass_g * 1000000) as bigint)) filter (where coalesce(weighed, 'wet') = 'wet') / 1000000.0 as wet_g,
        sum(cast(round(mass_g * 1000000) as bigint)) filter (where weighed = 'dry') / 1000000.0 as dry_g
    from catches
    group by firm_id, job_id, trap, caught_at
    having count(*) filter (where weighed = 'dry') between 1 and count(*) - 1
),
doubted as (
    -- 1.3 to 2.7 is what the settings allow for wet / dry mass
    select
        firm_id, job_id, catch_no, dry_g,
        case
            when dry_g > wet_g then 'heavier than the wet mass of the same trap and time'
            when dry_g = 0 and wet_g > 0 then 'not a dry mass beside a wet one: the wet mass counts'
            when wet_g < 1.3 * dry_g or wet_g > 2.7 * dry_g
                then concat('wet / dry mass is ', cast(round(wet_g / dry_g, 2) as varchar), ', outside 1.3..2.7')
        end as reason
    from both_ways
)
select
    firm_id, job_id, cast(catch_no as varchar) as row_key, 'caught_at' as column_name,
    regexp_replace(replace(cast(caught_at as varchar), ' ', 'T'), ':00$', '') as value, reason
from timed
where reason is not null
union all
select
    firm_id, job_id, cast(catch_no as varchar) as row_key, 'focus_emitter_no' as column_name,
    cast(focus_emitter_no as varchar) as value, 'not among the emitters of the job' as reason
from focused
union all
select
    firm_id, job_id, cast(catch_no as varchar) as row_key, 'mass_g' as column_name,
    cast(dry_g as varchar) as value, reason
from doubted
where reason is not null;
