-- grain : one row a return visit
-- key   : firm_id, job_id, called_back_on, cause
-- reads : checked_callbacks, stg_callbacks, stg_spans
-- why   : the return visits to known jobs, newest version of each
create table callbacks as
select
    r.firm_id, r.job_id, r.called_back_on, r.cause, r.debris_related, r.emitter_no
from checked_callbacks as r
semi join (select firm_id, job_id from stg_spans where table_name = 'callbacks' and status = 'accepted') as s
    on r.firm_id = s.firm_id and r.job_id = s.job_id
union all
select
    r.firm_id, r.job_id, r.called_back_on, r.cause, r.debris_related, r.emitter_no
from checked_callbacks as r
semi join (select batch_no, source_no, line from stg_callbacks where status = 'accepted') as s
    on r.batch_no = s.batch_no and r.source_no = s.source_no and r.line = s.line;
