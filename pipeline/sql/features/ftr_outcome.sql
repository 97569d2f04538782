-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, readings, site_days, ftr_catch_curve, ftr_wet_dry
-- why   : what a job gave and took; not weighed is not known, never zero
create table ftr_outcome as
with caught as (
    select
        firm_id, job_id,
        count(*) filter (where trap = 'magnet') as magnet_catches,
        count(*) filter (where trap <> 'magnet') as trap_catches,
        -- added as whole micrograms: the same to the last digit, however the rows are shared out
        sum(cast(round(dry_g * 1000000) as bigint)) filter (where trap = 'magnet') / 1000000000.0 as magnetite_kg,
        sum(cast(round(dry_g * 1000000) as bigint)) filter (
            where trap <> 'magnet' and is_magnetic
        ) / 1000000000.0 as magnetite_in_traps_kg,
        sum(cast(round(dry_g * 1000000) as bigint)) filter (where not is_magnetic) / 1000000000.0 as non_magnetic_kg
    from ftr_catch_curve
    group by firm_id, job_id
),
days as (
    -- one day of which nobody can know the minutes leaves those of the job empty
    select
        firm_id, job_id, max(site_day) > 1 as is_second_day,
        case when count(flow_seconds) = count(flow_first_at) then sum(flow_seconds) / 60.0 end as flush_minutes,
        case when count(site_seconds) = count(*) then sum(site_seconds) / 60.0 end as site_minutes
    from site_days
    group by firm_id, job_id
),
flows as (
    select
        firm_id, job_id,
        sum(cast(round(flow_l_min * 1000000) as bigint)) / 1000000.0 / count(flow_l_min) as mean_flow_l_min,
        avg(case when focus_emitter_no is null then 0.0 else 1.0 end) as focus_share
    from readings
    group by firm_id, job_id
)
select
    j.firm_id, j.job_id,
    coalesce(c.magnet_catches, 0) as magnet_catches,
    coalesce(c.trap_catches, 0) as trap_catches,
    w.wet_dry_ratio, w.wet_dry_method,
    coalesce(
        c.magnetite_kg,
        case
            when c.magnet_catches is not null then null
            when j.caught_total_weighed = 'dry' then j.caught_total_kg
            else j.caught_total_kg / w.wet_dry_ratio
        end
    ) as magnetite_kg,
    -- traps looked at and nothing weighed is a true zero; of what sticks to a magnet nothing is other debris
    coalesce(c.magnetite_in_traps_kg, case when j.strainer_checked or c.trap_catches > 0 then 0.0 end)
        as magnetite_in_traps_kg,
    coalesce(c.non_magnetic_kg, case when j.strainer_checked or c.trap_catches > 0 then 0.0 end) as non_magnetic_kg,
    d.flush_minutes,
    -- without both ends of the day the hours that were added up count
    case when j.arrived_at is not null and j.left_at is not null then d.site_minutes else j.worked_hours * 60.0 end
        as site_minutes,
    d.is_second_day,
    f.mean_flow_l_min,
    f.mean_flow_l_min / j.machine_max_flow_l_min as flow_share,
    f.focus_share,
    case
        when j.mains_conductivity_us_cm > 0 then j.final_conductivity_us_cm / j.mains_conductivity_us_cm - 1
    end as rinse_closeness
from jobs as j
join ftr_wet_dry as w on j.firm_id = w.firm_id
left join days as d on j.firm_id = d.firm_id and j.job_id = d.job_id
left join caught as c on j.firm_id = c.firm_id and j.job_id = c.job_id
left join flows as f on j.firm_id = f.firm_id and j.job_id = f.job_id
order by j.firm_id, j.job_id;
