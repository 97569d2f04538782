-- grain : one row a weighing
-- key   : firm_id, job_id, catch_no
-- reads : stg_catches
-- why   : the weighings of known jobs, newest version of each
create table catches as
select
    firm_id, job_id, catch_no, caught_at, focus_emitter_no, trap, mass_g, weighed, note
from stg_catches
where status = 'accepted'
order by firm_id, job_id, catch_no;
