-- grain : one row a return visit
-- key   : firm_id, job_id, called_back_on
-- reads : stg_callbacks
-- why   : the return visits to known jobs, newest version of each
create table callbacks as
select
    firm_id, job_id, called_back_on, cause, debris_related
from stg_callbacks
where status = 'accepted'
order by firm_id, job_id, called_back_on;
