-- grain : one row an emitter
-- key   : firm_id, job_id, emitter_no
-- reads : checked_emitters, stg_emitters, stg_spans
-- why   : the emitters of known jobs, newest version of each
create table emitters as
select
    r.firm_id, r.job_id, r.emitter_no, r.emitter_kind, r.room, r.height_mm, r.length_mm, r.floor_level,
    r.tail_bore_mm, r.valve_kind, r.cold_at_survey,
    r.top_before_c, r.bottom_before_c, r.top_after_c, r.bottom_after_c
from checked_emitters as r
semi join (select firm_id, job_id from stg_spans where table_name = 'emitters' and status = 'accepted') as s
    on r.firm_id = s.firm_id and r.job_id = s.job_id
union all
select
    r.firm_id, r.job_id, r.emitter_no, r.emitter_kind, r.room, r.height_mm, r.length_mm, r.floor_level,
    r.tail_bore_mm, r.valve_kind, r.cold_at_survey,
    r.top_before_c, r.bottom_before_c, r.top_after_c, r.bottom_after_c
from checked_emitters as r
semi join (select batch_no, source_no, line from stg_emitters where status = 'accepted') as s
    on r.batch_no = s.batch_no and r.source_no = s.source_no and r.line = s.line;
