-- grain : one row an emitter
-- key   : firm_id, job_id, emitter_no
-- reads : stg_emitters
-- why   : the emitters of known jobs, newest version of each
create table emitters as
select
    firm_id, job_id, emitter_no, emitter_kind, height_mm, length_mm, floor_level, tail_bore_mm,
    cold_at_survey
from stg_emitters
where status = 'accepted'
order by firm_id, job_id, emitter_no;
