-- grain : one row a reading
-- key   : firm_id, job_id, read_at
-- reads : checked_readings, stg_readings, stg_spans
-- why   : the readings of known jobs, newest version of each
create table readings as
select
    r.firm_id, r.job_id, r.read_at, r.focus_emitter_no, r.flow_l_min, r.flow_temp_c, r.return_temp_c,
    r.turbidity_ntu, r.conductivity_us_cm, r.ph, r.pressure_bar
from checked_readings as r
semi join (select firm_id, job_id from stg_spans where table_name = 'readings' and status = 'accepted') as s
    on r.firm_id = s.firm_id and r.job_id = s.job_id
union all
select
    r.firm_id, r.job_id, r.read_at, r.focus_emitter_no, r.flow_l_min, r.flow_temp_c, r.return_temp_c,
    r.turbidity_ntu, r.conductivity_us_cm, r.ph, r.pressure_bar
from checked_readings as r
semi join (select batch_no, source_no, line from stg_readings where status = 'accepted') as s
    on r.batch_no = s.batch_no and r.source_no = s.source_no and r.line = s.line;
