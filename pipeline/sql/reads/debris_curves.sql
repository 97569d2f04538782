-- grain : one row a magnet weighing that counts
-- key   : job_place, minutes_since_start, catch_no
-- reads : jobs, ftr_catch_curve
-- why   : debris curves of every job for drawing; jobs as places in the order of their keys: text would be most of the work
with placed as (
    select firm_id, job_id, row_number() over (order by firm_id, job_id) - 1 as job_place from jobs
)
select
    cast(p.job_place as integer) as job_place,
    c.minutes_since_start,
    c.cumulative_magnetite_kg
from ftr_catch_curve as c
join placed as p on c.firm_id = p.firm_id and c.job_id = p.job_id
where c.trap = 'magnet' and c.minutes_since_start is not null
order by p.job_place, c.minutes_since_start, c.catch_no;
