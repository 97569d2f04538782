-- grain : one row a magnet weighing with one emitter in focus
-- key   : firm_id, job_id, emitter_no, catch_no
-- reads : ftr_catch_curve
-- why   : the debris curve of an emitter against the minutes in which the flow was on it
create table ftr_emitter_curve as
select
    firm_id, job_id, focus_emitter_no as emitter_no, catch_no,
    -- added as whole seconds and whole micrograms: the same to the last digit, wherever the rows lie
    sum(cast(round(interval_minutes * 60) as bigint)) over so_far / 60.0 as focus_minutes,
    dry_g,
    sum(cast(round(dry_g * 1000000) as bigint)) over so_far / 1000000000.0 as cumulative_magnetite_kg
from ftr_catch_curve
where trap = 'magnet' and focus_emitter_no is not null and interval_minutes is not null
window so_far as (
    partition by firm_id, job_id, focus_emitter_no order by minutes_since_start, caught_at, catch_no
    rows between unbounded preceding and current row
)
order by firm_id, job_id, emitter_no, focus_minutes, catch_no;
