-- grain : one row a warning on the days of a job
-- key   : firm_id, job_id, row_key, column_name, reason
-- reads : site_days, jobs
-- why   : minutes that nobody can know are empty, and the job says so
create temp table stg_day_warnings as
with unknown as (
    select
        s.firm_id, s.job_id,
        count(s.flow_seconds) < count(s.flow_first_at) as no_flush,
        count(s.site_seconds) < count(*) and max(j.arrived_at) is not null and max(j.left_at) is not null as no_site
    from site_days as s
    join jobs as j on s.firm_id = j.firm_id and s.job_id = j.job_id
    group by s.firm_id, s.job_id
)
select
    firm_id, job_id, job_id as row_key, '' as column_name, cast(null as varchar) as value,
    case
        when no_flush
            then 'does not say when the flush stopped for the night or began again; its flush minutes are left empty'
        else 'does not say when work stopped for the night or began again; its minutes on site are left empty'
    end as reason
from unknown
where no_flush or no_site;
