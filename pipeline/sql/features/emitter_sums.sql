-- grain : one row a job with emitters
-- key   : firm_id, job_id
-- reads : ftr_emitter, counted_emitters
-- why   : how many emitters a job has and the water in them: by the list where there is one, else by the count
create temp table emitter_sums as
with listed as (
    select
        firm_id, job_id, count(*) as emitter_count,
        -- added as whole microlitres: the same to the last digit, however the rows are shared out
        sum(cast(round(content_low_l * 1000000) as bigint)) / 1000000.0 as low_l,
        sum(cast(round(content_mid_l * 1000000) as bigint)) / 1000000.0 as mid_l,
        sum(cast(round(content_high_l * 1000000) as bigint)) / 1000000.0 as high_l
    from ftr_emitter
    group by firm_id, job_id
)
select firm_id, job_id, emitter_count, low_l, mid_l, high_l from listed
union all
select c.firm_id, c.job_id, c.emitter_count, c.low_l, c.mid_l, c.high_l
from counted_emitters as c
anti join listed as l on c.firm_id = l.firm_id and c.job_id = l.job_id;
