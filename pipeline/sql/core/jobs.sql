-- grain : one row a job
-- key   : firm_id, job_id
-- reads : stg_jobs
-- why   : the job log as it counts today: the newest version of each job
create table jobs as
select
    firm_id, job_id, engineer_id, crew_size, property_kind, floor_count, postcode_district,
    system_type, pipe_layout, main_bore_mm, boiler_kind, boiler_output_kw, install_year,
    last_cleaned_year, inhibitor_at_survey, filter_at_survey, known_building_debris,
    topups_per_year, survey_ph, survey_conductivity_us_cm, survey_turbidity_ntu, survey_iron_mg_l,
    mains_conductivity_us_cm, predosed_on, predose_label_ratio, label_max_days, visit_date,
    flush_started_at, flush_ended_at, arrived_at, left_at, heat_source, heater_kw, connection,
    machine_max_flow_l_min, hose_length_m, hose_bore_mm, isolation, agitation,
    half_drained_emitters, flow_reversed, boiler_strainer, strainer_checked, final_ph,
    final_conductivity_us_cm, final_turbidity_ntu, final_iron_mg_l, filter_fitted, inhibitor_dosed,
    quoted_minutes, quoted_price, followed_until,
    loaded_on,
    starts_with(firm_id, 'sim-') as is_simulated
from stg_jobs
where status = 'accepted'
order by firm_id, job_id;
