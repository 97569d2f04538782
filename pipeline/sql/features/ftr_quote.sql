-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, emitters, ftr_emitter, counted_emitters, ftr_volume
-- why   : what is known at survey and planned for the day; the same file serves history and a new request
create table ftr_quote as
with emitter_facts as (
    select
        firm_id, job_id,
        avg(case when emitter_kind is null then null when starts_with(emitter_kind, 'panel_') then 1.0 else 0.0 end)
            as panel_share,
        avg(case when emitter_kind is null then null when emitter_kind in ('underfloor_loop', 'coil') then 1.0 else 0.0 end)
            as loop_share,
        sum(cast(round(length_mm * 1000) as bigint)) / 1000.0 / count(length_mm) as mean_emitter_length_mm,
        case when count(length_mm) > 0 then count(*) filter (where length_mm >= 1600) end as long_emitter_count,
        case when count(cold_at_survey) > 0 then count(*) filter (where cold_at_survey) end as cold_count,
        avg(case when cold_at_survey then 1.0 when not cold_at_survey then 0.0 end) as cold_share,
        avg(case when floor_level > 0 then 1.0 when floor_level <= 0 then 0.0 end) as upstairs_share
    from ftr_emitter
    group by firm_id, job_id
),
tails as (
    select firm_id, job_id, min(tail_bore_mm) as min_tail_bore_mm from emitters group by firm_id, job_id
)
select
    j.firm_id, j.job_id, j.visit_date, j.is_simulated,
    v.system_volume_l,
    (v.system_volume_high_l - v.system_volume_low_l) / v.system_volume_l as volume_spread_share,
    case when v.emitter_count > 0 then v.emitter_count end as emitter_count,
    coalesce(e.panel_share, cast(n.panels as double) / nullif(n.named_count, 0)) as panel_share,
    coalesce(e.loop_share, cast(n.loops as double) / nullif(n.named_count, 0)) as loop_share,
    e.mean_emitter_length_mm,
    coalesce(e.long_emitter_count, j.long_count_at_survey) as long_emitter_count,
    coalesce(e.cold_count, j.cold_count_at_survey) as cold_count,
    coalesce(e.cold_share, cast(j.cold_count_at_survey as double) / nullif(v.emitter_count, 0)) as cold_share,
    coalesce(e.upstairs_share, cast(j.upstairs_count_at_survey as double) / nullif(v.emitter_count, 0))
        as upstairs_share,
    t.min_tail_bore_mm,
    j.floor_count, j.property_kind, j.system_type, j.pipe_layout, j.main_bore_mm, j.boiler_kind,
    j.boiler_output_kw,
    coalesce(cast(year(j.visit_date) - j.install_year as double), j.emitter_age_years) as age_years,
    coalesce(cast(year(j.visit_date) - coalesce(j.last_cleaned_year, j.install_year) as double), j.emitter_age_years)
        as years_since_clean,
    j.last_cleaned_year is not null as was_cleaned_before,
    j.inhibitor_at_survey, j.filter_at_survey, j.known_building_debris, j.topups_per_year,
    j.survey_ph, j.survey_conductivity_us_cm, j.survey_turbidity_ntu, j.survey_iron_mg_l,
    j.survey_conductivity_us_cm - j.mains_conductivity_us_cm as conductivity_excess_us_cm,
    coalesce(j.survey_ph, j.survey_conductivity_us_cm, j.survey_turbidity_ntu, j.survey_iron_mg_l) is not null
        as water_known,
    j.engineer_id, j.crew_size,
    coalesce(cast(date_diff('day', j.predosed_on, j.visit_date) as double), 0.0) as predose_days,
    j.predose_label_ratio, j.heat_source, j.heater_kw, j.connection, j.machine_max_flow_l_min, j.isolation,
    j.agitation
from jobs as j
join ftr_volume as v on j.firm_id = v.firm_id and j.job_id = v.job_id
left join emitter_facts as e on j.firm_id = e.firm_id and j.job_id = e.job_id
left join counted_emitters as n on j.firm_id = n.firm_id and j.job_id = n.job_id
left join tails as t on j.firm_id = t.firm_id and j.job_id = t.job_id
order by j.firm_id, j.job_id;
