-- grain : one row
-- key   : jobs
-- reads : jobs
-- why   : how many jobs a book holds and how many of them are simulated, asked with every answer
select
    count(*) as jobs,
    count(*) filter (where is_simulated) as simulated_jobs
from jobs;
