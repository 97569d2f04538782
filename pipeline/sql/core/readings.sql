-- grain : one row a reading
-- key   : firm_id, job_id, read_at
-- reads : stg_readings
-- why   : the readings of known jobs, newest version of each
create table readings as
select
    firm_id, job_id, read_at, focus_emitter_no, flow_l_min, flow_temp_c, return_temp_c,
    turbidity_ntu, conductivity_us_cm, ph, pressure_bar
from stg_readings
where status = 'accepted'
order by firm_id, job_id, read_at;
