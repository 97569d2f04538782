-- grain : one row a received row of jobs
-- key   : batch_no, file, line
-- reads : checked_jobs
-- why   : says of each row whether it counts: accepted, duplicate or superseded
create temp table stg_jobs as
with compared as (
    select
        firm_id, job_id, engineer_id, crew_size, property_kind, floor_count, postcode_district,
        system_type, pipe_layout, main_bore_mm, boiler_kind, boiler_output_kw, install_year,
        last_cleaned_year, inhibitor_at_survey, filter_at_survey, known_building_debris,
        topups_per_year, survey_ph, survey_conductivity_us_cm, survey_turbidity_ntu,
        survey_iron_mg_l, mains_conductivity_us_cm, predosed_on, predose_label_ratio,
        label_max_days, visit_date, flush_started_at, flush_ended_at, arrived_at, left_at,
        heat_source, heater_kw, connection, machine_max_flow_l_min, hose_length_m, hose_bore_mm,
        isolation, agitation, half_drained_emitters, flow_reversed, boiler_strainer,
        strainer_checked, final_ph, final_conductivity_us_cm, final_turbidity_ntu, final_iron_mg_l,
        filter_fitted, inhibitor_dosed, quoted_minutes, quoted_price, followed_until,
        batch_no, batch_id, loaded_on, file, line,
        content is not distinct from lag(content) over versions as is_duplicate
    from checked_jobs
    window versions as (partition by firm_id, job_id order by batch_no, file, line)
),
ranked as (
    select
        firm_id, job_id, engineer_id, crew_size, property_kind, floor_count, postcode_district,
        system_type, pipe_layout, main_bore_mm, boiler_kind, boiler_output_kw, install_year,
        last_cleaned_year, inhibitor_at_survey, filter_at_survey, known_building_debris,
        topups_per_year, survey_ph, survey_conductivity_us_cm, survey_turbidity_ntu,
        survey_iron_mg_l, mains_conductivity_us_cm, predosed_on, predose_label_ratio,
        label_max_days, visit_date, flush_started_at, flush_ended_at, arrived_at, left_at,
        heat_source, heater_kw, connection, machine_max_flow_l_min, hose_length_m, hose_bore_mm,
        isolation, agitation, half_drained_emitters, flow_reversed, boiler_strainer,
        strainer_checked, final_ph, final_conductivity_us_cm, final_turbidity_ntu, final_iron_mg_l,
        filter_fitted, inhibitor_dosed, quoted_minutes, quoted_price, followed_until,
        batch_no, batch_id, loaded_on, file, line, is_duplicate,
        row_number() over (
            partition by firm_id, job_id, is_duplicate order by batch_no desc, file desc, line desc
        ) as newest
    from compared
)
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
    batch_no, batch_id, loaded_on, file, line,
    case
        when is_duplicate then 'duplicate'
        when newest > 1 then 'superseded'
        else 'accepted'
    end as status,
    cast(null as varchar) as column_name,
    cast(null as varchar) as value,
    cast(null as varchar) as reason
from ranked;
