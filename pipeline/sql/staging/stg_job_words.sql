-- grain : one row a received row of a job whose rows of jobs must be compared
-- key   : batch_no, source_no, line
-- reads : checked_jobs, checked_rejects, stg_job_spans
-- why   : everything that such a row says as one text, so that two rows can be told apart
create temp table stg_job_words as
select
    r.firm_id, r.job_id, r.batch_no, r.source_no, r.line,
    concat_ws(
        chr(31),
        coalesce(cast(r.engineer_id as varchar), ''), coalesce(cast(r.crew_size as varchar), ''),
        coalesce(cast(r.property_kind as varchar), ''), coalesce(cast(r.floor_count as varchar), ''),
        coalesce(cast(r.postcode_district as varchar), ''), coalesce(cast(r.system_type as varchar), ''),
        coalesce(cast(r.pipe_layout as varchar), ''), coalesce(cast(r.main_bore_mm as varchar), ''),
        coalesce(cast(r.boiler_kind as varchar), ''), coalesce(cast(r.boiler_output_kw as varchar), ''),
        coalesce(cast(r.aluminium_exchanger as varchar), ''), coalesce(cast(r.buffer_l as varchar), ''),
        coalesce(cast(r.antifreeze_at_survey as varchar), ''),
        coalesce(cast(r.cleaner_suits_aluminium as varchar), ''),
        coalesce(cast(r.machine_open_tank as varchar), ''),
        coalesce(cast(r.dosed_conductivity_us_cm as varchar), ''),
        coalesce(cast(r.emitter_count_at_survey as varchar), ''),
        coalesce(cast(r.cold_count_at_survey as varchar), ''),
        coalesce(cast(r.upstairs_count_at_survey as varchar), ''),
        coalesce(cast(r.long_count_at_survey as varchar), ''), coalesce(cast(r.panel_11_count as varchar), ''),
        coalesce(cast(r.panel_21_count as varchar), ''), coalesce(cast(r.panel_22_count as varchar), ''),
        coalesce(cast(r.towel_rail_count as varchar), ''), coalesce(cast(r.column_count as varchar), ''),
        coalesce(cast(r.underfloor_loop_count as varchar), ''), coalesce(cast(r.emitter_age_years as varchar), ''), coalesce(cast(r.cleaner_put_in_l as varchar), ''),
        coalesce(cast(r.inhibitor_put_in_l as varchar), ''), coalesce(cast(r.caught_total_kg as varchar), ''),
        coalesce(cast(r.caught_total_weighed as varchar), ''), coalesce(cast(r.worked_hours as varchar), ''),
        coalesce(cast(r.charged_price as varchar), ''), coalesce(cast(r.came_back as varchar), ''),
        coalesce(cast(r.install_year as varchar), ''), coalesce(cast(r.last_cleaned_year as varchar), ''),
        coalesce(cast(r.inhibitor_at_survey as varchar), ''), coalesce(cast(r.filter_at_survey as varchar), ''),
        coalesce(cast(r.known_building_debris as varchar), ''), coalesce(cast(r.topups_per_year as varchar), ''),
        coalesce(cast(r.survey_ph as varchar), ''), coalesce(cast(r.survey_conductivity_us_cm as varchar), ''),
        coalesce(cast(r.survey_turbidity_ntu as varchar), ''), coalesce(cast(r.survey_iron_mg_l as varchar), ''),
        coalesce(cast(r.mains_conductivity_us_cm as varchar), ''), coalesce(cast(r.predosed_on as varchar), ''),
        coalesce(cast(r.predose_label_ratio as varchar), ''), coalesce(cast(r.label_max_days as varchar), ''),
        coalesce(cast(r.visit_date as varchar), ''), coalesce(cast(r.flush_started_at as varchar), ''),
        coalesce(cast(r.flush_ended_at as varchar), ''), coalesce(cast(r.arrived_at as varchar), ''),
        coalesce(cast(r.left_at as varchar), ''), coalesce(cast(r.heat_source as varchar), ''),
        coalesce(cast(r.heater_kw as varchar), ''), coalesce(cast(r.connection as varchar), ''),
        coalesce(cast(r.machine_max_flow_l_min as varchar), ''), coalesce(cast(r.hose_length_m as varchar), ''),
        coalesce(cast(r.hose_bore_mm as varchar), ''), coalesce(cast(r.isolation as varchar), ''),
        coalesce(cast(r.agitation as varchar), ''), coalesce(cast(r.half_drained_emitters as varchar), ''),
        coalesce(cast(r.flow_reversed as varchar), ''), coalesce(cast(r.boiler_strainer as varchar), ''),
        coalesce(cast(r.strainer_checked as varchar), ''), coalesce(cast(r.final_ph as varchar), ''),
        coalesce(cast(r.final_conductivity_us_cm as varchar), ''),
        coalesce(cast(r.final_turbidity_ntu as varchar), ''), coalesce(cast(r.final_iron_mg_l as varchar), ''),
        coalesce(cast(r.filter_fitted as varchar), ''), coalesce(cast(r.inhibitor_dosed as varchar), ''),
        coalesce(cast(r.quoted_minutes as varchar), ''), coalesce(cast(r.quoted_price as varchar), ''),
        coalesce(cast(r.followed_until as varchar), '')
    ) as content
from checked_jobs as r
semi join (
    select distinct firm_id, job_id from stg_job_spans
    where table_name = 'jobs' and status = 'compared'
) as c
    on r.firm_id = c.firm_id and r.job_id = c.job_id
anti join checked_rejects as x
    on r.batch_no = x.batch_no and r.source_no = x.source_no and r.line = x.line;
