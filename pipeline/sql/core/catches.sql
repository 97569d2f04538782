-- grain : one row a weighing
-- key   : firm_id, job_id, catch_no
-- reads : checked_catches, stg_catches, stg_spans
-- why   : the weighings of known jobs, newest version of each
create table catches as
select
    r.firm_id, r.job_id, r.catch_no, r.caught_at, r.focus_emitter_no, r.trap, r.mass_g, r.weighed,
    r.sticks_to_magnet, r.note
from checked_catches as r
semi join (select firm_id, job_id from stg_spans where table_name = 'catches' and status = 'accepted') as s
    on r.firm_id = s.firm_id and r.job_id = s.job_id
union all
select
    r.firm_id, r.job_id, r.catch_no, r.caught_at, r.focus_emitter_no, r.trap, r.mass_g, r.weighed,
    r.sticks_to_magnet, r.note
from checked_catches as r
semi join (select batch_no, source_no, line from stg_catches where status = 'accepted') as s
    on r.batch_no = s.batch_no and r.source_no = s.source_no and r.line = s.line;
