-- grain : one row a job
-- key   : firm_id, job_id
-- reads : checked_jobs, checked_sources, stg_jobs, stg_job_spans
-- why   : the job log as it counts today: the newest version of each job
create table jobs as
select
    r.firm_id, r.job_id, r.engineer_id, r.crew_size, r.property_kind, r.floor_count, r.postcode_district,
    r.system_type, r.pipe_layout, r.main_bore_mm, r.boiler_kind, r.boiler_output_kw,
    r.aluminium_exchanger, r.buffer_l, r.install_year,
    r.last_cleaned_year, r.emitter_count_at_survey, r.cold_count_at_survey, r.upstairs_count_at_survey,
    r.long_count_at_survey, r.panel_11_count, r.panel_21_count, r.panel_22_count, r.towel_rail_count,
    r.column_count, r.underfloor_loop_count, r.emitter_age_years,
    r.inhibitor_at_survey, r.filter_at_survey, r.known_building_debris,
    r.antifreeze_at_survey, r.topups_per_year, r.survey_ph, r.survey_conductivity_us_cm, r.survey_turbidity_ntu, r.survey_iron_mg_l,
    r.mains_conductivity_us_cm, r.predosed_on, r.predose_label_ratio, r.label_max_days,
    r.cleaner_suits_aluminium, r.visit_date,
    r.flush_started_at, r.flush_ended_at, r.arrived_at, r.left_at, r.heat_source, r.heater_kw, r.connection,
    r.machine_max_flow_l_min, r.machine_open_tank, r.hose_length_m, r.hose_bore_mm, r.isolation, r.agitation,
    r.half_drained_emitters, r.flow_reversed, r.boiler_strainer, r.strainer_checked, r.final_ph,
    r.final_conductivity_us_cm, r.dosed_conductivity_us_cm,
    r.final_turbidity_ntu, r.final_iron_mg_l, r.filter_fitted, r.inhibitor_dosed,
    r.cleaner_put_in_l, r.inhibitor_put_in_l, r.quoted_minutes, r.quoted_price, r.caught_total_kg,
    r.caught_total_weighed, r.worked_hours, r.charged_price, r.came_back, r.followed_until,
    d.loaded_on,
    starts_with(r.firm_id, 'sim-') as is_simulated
from checked_jobs as r
join (select distinct batch_no, loaded_on from checked_sources) as d on r.batch_no = d.batch_no
semi join (select firm_id, job_id from stg_job_spans where status = 'accepted') as s
    on r.firm_id = s.firm_id and r.job_id = s.job_id
union all
select
    r.firm_id, r.job_id, r.engineer_id, r.crew_size, r.property_kind, r.floor_count, r.postcode_district,
    r.system_type, r.pipe_layout, r.main_bore_mm, r.boiler_kind, r.boiler_output_kw,
    r.aluminium_exchanger, r.buffer_l, r.install_year,
    r.last_cleaned_year, r.emitter_count_at_survey, r.cold_count_at_survey, r.upstairs_count_at_survey,
    r.long_count_at_survey, r.panel_11_count, r.panel_21_count, r.panel_22_count, r.towel_rail_count,
    r.column_count, r.underfloor_loop_count, r.emitter_age_years,
    r.inhibitor_at_survey, r.filter_at_survey, r.known_building_debris,
    r.antifreeze_at_survey, r.topups_per_year, r.survey_ph, r.survey_conductivity_us_cm, r.survey_turbidity_ntu, r.survey_iron_mg_l,
    r.mains_conductivity_us_cm, r.predosed_on, r.predose_label_ratio, r.label_max_days,
    r.cleaner_suits_aluminium, r.visit_date,
    r.flush_started_at, r.flush_ended_at, r.arrived_at, r.left_at, r.heat_source, r.heater_kw, r.connection,
    r.machine_max_flow_l_min, r.machine_open_tank, r.hose_length_m, r.hose_bore_mm, r.isolation, r.agitation,
    r.half_drained_emitters, r.flow_reversed, r.boiler_strainer, r.strainer_checked, r.final_ph,
    r.final_conductivity_us_cm, r.dosed_conductivity_us_cm,
    r.final_turbidity_ntu, r.final_iron_mg_l, r.filter_fitted, r.inhibitor_dosed,
    r.cleaner_put_in_l, r.inhibitor_put_in_l, r.quoted_minutes, r.quoted_price, r.caught_total_kg,
    r.caught_total_weighed, r.worked_hours, r.charged_price, r.came_back, r.followed_until,
    d.loaded_on,
    starts_with(r.firm_id, 'sim-') as is_simulated
from checked_jobs as r
join (select distinct batch_no, loaded_on from checked_sources) as d on r.batch_no = d.batch_no
semi join (select batch_no, source_no, line from stg_jobs where status = 'accepted') as s
    on r.batch_no = s.batch_no and r.source_no = s.source_no and r.line = s.line;
