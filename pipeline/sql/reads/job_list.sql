-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, ftr_volume, ftr_outcome, ftr_callback, callbacks
-- why   : the list of jobs that pages choose from, newest first; what one job's story needs more is read with the job;
--         of a firm that has handed in no callbacks nobody knows whether it was called back
with told as (
    select distinct firm_id from callbacks
)
select
    cast(row_number() over (order by j.firm_id, j.job_id) - 1 as bigint) as job_place,
    j.firm_id, j.job_id, j.visit_date, j.is_simulated, j.engineer_id, j.crew_size,
    j.property_kind, j.system_type, j.pipe_layout, j.boiler_kind, j.install_year, j.last_cleaned_year,
    j.inhibitor_at_survey, j.filter_at_survey, j.topups_per_year, j.known_building_debris,
    j.predosed_on, j.heat_source, j.connection, j.isolation, j.agitation,
    v.emitter_count, v.system_volume_l,
    o.magnet_catches, o.magnetite_kg, o.non_magnetic_kg, o.flush_minutes, o.site_minutes,
    case when t.firm_id is not null then c.followed_days end as followed_days,
    case when t.firm_id is not null then c.has_debris_callback_365 end as has_debris_callback_365,
    case when t.firm_id is not null then c.is_censored_365 end as is_censored_365
from jobs as j
left join ftr_volume as v on j.firm_id = v.firm_id and j.job_id = v.job_id
left join ftr_outcome as o on j.firm_id = o.firm_id and j.job_id = o.job_id
left join ftr_callback as c on j.firm_id = c.firm_id and j.job_id = c.job_id
left join told as t on j.firm_id = t.firm_id
order by j.visit_date desc, j.job_id;
