-- grain : one row
-- key   : jobs
-- reads : jobs, catches
-- why   : how much a build holds, counted where it lies: reading a large book's weighings to count them takes seconds
select
    count(*) as jobs,
    count(*) filter (where is_simulated) as simulated_jobs,
    (select count(*) from catches) as catches,
    min(visit_date) as first_visit,
    max(visit_date) as last_visit
from jobs;
