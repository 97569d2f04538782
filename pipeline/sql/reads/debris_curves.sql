-- grain : one row a magnet weighing that counts
-- key   : job_mark, minutes_since_start, cumulative_magnetite_kg
-- reads : ftr_catch_curve
-- why   : debris curves of every job for drawing, as they lie; a job as one number: reading or sorting text would be most
--         of the work
select
    hash(firm_id, job_id) as job_mark,
    minutes_since_start,
    cumulative_magnetite_kg
from ftr_catch_curve
where trap = 'magnet' and minutes_since_start is not null;
