"""The tables of a build: core tables (`core_tables`) and the feature tables, in the order they are built.

A feature's `known_by` says when it is known; a quote may read `survey` and `plan` columns only.
"""

from __future__ import annotations

from pipeline.contract import core_tables, job_log
from pipeline.contract.columns import Column, Table
from pipeline.contract.core_tables import FIRM, JOB
from pipeline.contract.core_tables import built_column as _c
from pipeline.contract.nights import RULE as NIGHTS

EMITTER_NO = Column("emitter_no", "integer", "Emitter, numbered within the job", known_by="key")

JOB_DAY = Table(
    "ftr_job_day",
    "one row a job and day of its flush, which may run past midnight",
    ("firm_id", "job_id", "day_no"),
    (
        FIRM,
        JOB,
        _c("day_no", "integer", "day", "key", "Day on site, from 1"),
        _c("first_at", "time", "", "during", "First moment known of the flush on that day"),
        _c("last_at", "time", "", "during", "Last moment known of the flush on that day"),
        _c("minutes_before", "number", "min", "during", "Flush minutes on the days before; empty: nobody can know"),
        _c("minutes", "number", "min", "during", "Flush minutes on that day; empty: nobody can know"),
    ),
    rules=NIGHTS,
)

EMITTER = Table(
    "ftr_emitter",
    "one row an emitter",
    ("firm_id", "job_id", "emitter_no"),
    (
        FIRM,
        JOB,
        EMITTER_NO,
        _c("emitter_kind", "text", "", "survey", "Kind as logged"),
        _c("floor_level", "integer", "storey", "survey", "Floor it stands on"),
        _c("cold_at_survey", "yes_no", "", "survey", "Cold at the bottom or in the middle at survey"),
        _c("valve_kind", "text", "", "survey", "Kind of its valve", job_log.VALVE_KINDS),
        _c("length_mm", "number", "mm", "survey", "Length"),
        _c("content_low_l", "number", "L", "survey", "Water content, low"),
        _c("content_mid_l", "number", "L", "survey", "Water content, middle"),
        _c("content_high_l", "number", "L", "survey", "Water content, high"),
        _c(
            "content_method",
            "text",
            "",
            "survey",
            "How the content was found",
            ("table", "table_typical_size", "mean_of_counted", "typical_emitter"),
        ),
    ),
)

VOLUME = Table(
    "ftr_volume",
    "one row a job",
    ("firm_id", "job_id"),
    (
        FIRM,
        JOB,
        _c("emitter_count", "integer", "count", "survey", "Emitters"),
        _c("emitter_volume_low_l", "number", "L", "survey", "Water in the emitters, low"),
        _c("emitter_volume_mid_l", "number", "L", "survey", "Water in the emitters, middle"),
        _c("emitter_volume_high_l", "number", "L", "survey", "Water in the emitters, high"),
        _c("pipe_volume_low_l", "number", "L", "survey", "Water in the pipes, low"),
        _c("pipe_volume_mid_l", "number", "L", "survey", "Water in the pipes, middle"),
        _c("pipe_volume_high_l", "number", "L", "survey", "Water in the pipes, high"),
        _c("source_volume_low_l", "number", "L", "survey", "Water in the heat source and its buffer, low"),
        _c("source_volume_mid_l", "number", "L", "survey", "Water in the heat source and its buffer, middle"),
        _c("source_volume_high_l", "number", "L", "survey", "Water in the heat source and its buffer, high"),
        _c("system_volume_low_l", "number", "L", "survey", "System volume, low"),
        _c("system_volume_l", "number", "L", "survey", "System volume, middle"),
        _c("system_volume_high_l", "number", "L", "survey", "System volume, high"),
        _c(
            "system_volume_method",
            "text",
            "",
            "survey",
            "How the system volume was found",
            ("emitters_and_pipe_runs", "emitters_and_pipe_rule", "boiler_output_rule", "typical_system"),
        ),
    ),
)

QUOTE = Table(
    "ftr_quote",
    "one row a job",
    ("firm_id", "job_id"),
    (
        FIRM,
        JOB,
        _c("visit_date", "date", "", "plan", "First day on site"),
        _c("is_simulated", "yes_no", "", "survey", "The job was made by the simulator"),
        _c("system_volume_l", "number", "L", "survey", "System volume, middle"),
        _c("volume_spread_share", "number", "share", "survey", "(High − low) / middle of the system volume"),
        _c("emitter_count", "integer", "count", "survey", "Emitters"),
        _c("panel_share", "number", "share", "survey", "Share of emitters that are panels"),
        _c("loop_share", "number", "share", "survey", "Share of emitters that are underfloor loops or coils"),
        _c("mean_emitter_length_mm", "number", "mm", "survey", "Mean emitter length"),
        _c("long_emitter_count", "integer", "count", "survey", "Emitters of 1600 mm or longer"),
        _c("cold_count", "integer", "count", "survey", "Emitters cold at survey"),
        _c("cold_share", "number", "share", "survey", "Share of emitters cold at survey"),
        _c("upstairs_share", "number", "share", "survey", "Share of emitters above the ground floor"),
        _c("min_tail_bore_mm", "number", "mm", "survey", "Smallest tail"),
        _c("floor_count", "integer", "count", "survey", "Storeys the system serves"),
        _c("property_kind", "text", "", "survey", "Kind of property", job_log.PROPERTY_KINDS),
        _c("system_type", "text", "", "survey", "Open-vented or sealed", job_log.SYSTEM_TYPES),
        _c("pipe_layout", "text", "", "survey", "Pipework as found", job_log.PIPE_LAYOUTS),
        _c("main_bore_mm", "number", "mm", "survey", "Outside diameter of the mains"),
        _c("boiler_kind", "text", "", "survey", "Kind of heat source", job_log.BOILER_KINDS),
        _c("boiler_output_kw", "number", "kW", "survey", "Output of the heat source"),
        _c("age_years", "number", "years", "survey", "Age of the emitters at the visit"),
        _c("years_since_clean", "number", "years", "survey", "Years since the last clean, else the age"),
        _c("was_cleaned_before", "yes_no", "", "survey", "A last clean is on record"),
        _c("inhibitor_at_survey", "yes_no", "", "survey", "Inhibitor was in the water"),
        _c("filter_at_survey", "yes_no", "", "survey", "A magnetic filter was already fitted"),
        _c("known_building_debris", "yes_no", "", "survey", "Sand, cement or tank debris known or suspected"),
        _c("topups_per_year", "number", "1/year", "survey", "Top-ups a year"),
        _c("survey_ph", "number", "pH", "survey", "pH of the system water"),
        _c("survey_conductivity_us_cm", "number", "µS/cm", "survey", "Conductivity of the system water"),
        _c("survey_turbidity_ntu", "number", "NTU", "survey", "Turbidity of the system water"),
        _c("survey_iron_mg_l", "number", "mg/L", "survey", "Iron in the system water"),
        _c("conductivity_excess_us_cm", "number", "µS/cm", "survey", "System less mains conductivity"),
        _c("water_known", "yes_no", "", "survey", "Any water figure was taken at survey"),
        _c("engineer_id", "text", "", "plan", "Who is to lead the clean, as an id"),
        _c("crew_size", "integer", "count", "plan", "People on site"),
        _c("predose_days", "number", "days", "plan", "Days of pre-dose before the visit; 0: none on record"),
        _c("predose_label_ratio", "number", "ratio", "plan", "Amount dosed / label amount"),
        _c("heat_source", "text", "", "plan", "Heat during the flush", job_log.HEAT_SOURCES),
        _c("heater_kw", "number", "kW", "plan", "Rating of the inline heater"),
        _c("connection", "text", "", "plan", "Where the hoses join", job_log.CONNECTIONS),
        _c("machine_max_flow_l_min", "number", "L/min", "plan", "Machine flow, hoses open to each other"),
        _c("isolation", "text", "", "plan", "How the flow was focused", job_log.ISOLATIONS),
        _c("agitation", "text", "", "plan", "How settled rust was shaken", job_log.AGITATIONS),
    ),
)

HEAT = Table(
    "ftr_heat",
    "one row a job",
    ("firm_id", "job_id"),
    (
        FIRM,
        JOB,
        _c("temperature_readings", "integer", "count", "during", "Readings with a temperature"),
        _c("degree_hours_above_20_c", "number", "K·h", "during", "Heat used: degree-hours above 20 °C"),
        _c("start_temp_c", "number", "°C", "during", "Mean of flow and return at the first reading"),
        _c("peak_temp_c", "number", "°C", "during", "Highest mean of flow and return"),
        _c("water_only_energy_low_kwh", "number", "kWh", "during", "To warm the water alone to its peak, low volume"),
        _c("water_only_energy_kwh", "number", "kWh", "during", "To warm the water alone to its peak, middle volume"),
        _c("water_only_energy_high_kwh", "number", "kWh", "during", "To warm the water alone to its peak, high volume"),
    ),
)

CATCH_CURVE = Table(
    "ftr_catch_curve",
    "one row a weighing that counts",
    ("firm_id", "job_id", "catch_no"),
    (
        FIRM,
        JOB,
        _c("catch_no", "integer", "", "key", "Weighing"),
        _c("caught_at", "time", "", "during", "Trap opened and cleaned"),
        _c("trap", "text", "", "during", "Where it was caught", job_log.TRAPS),
        _c("focus_emitter_no", "integer", "", "during", "Emitter that had the flow; empty: whole system"),
        _c("is_magnetic", "yes_no", "", "during", "Magnetite: from the magnet, or sticks to one"),
        _c("minutes_since_start", "number", "min", "during", "Flush minutes since the start, nights left out"),
        _c("interval_minutes", "number", "min", "during", "Flush minutes since the trap was last opened"),
        _c("dry_g", "number", "g", "during", "Dry mass caught"),
        _c("cumulative_magnetite_kg", "number", "kg", "during", "Dry magnetite so far, whole job"),
        _c("cumulative_non_magnetic_kg", "number", "kg", "during", "Dry other debris so far, whole job"),
        _c("share_of_magnetite", "number", "share", "after", "Share of the job's magnetite so far"),
    ),
)

EMITTER_CURVE = Table(
    "ftr_emitter_curve",
    "one row a magnet weighing with one emitter in focus",
    ("firm_id", "job_id", "emitter_no", "catch_no"),
    (
        FIRM,
        JOB,
        EMITTER_NO,
        _c("catch_no", "integer", "", "key", "Weighing"),
        _c("focus_minutes", "number", "min", "during", "Minutes with the flow on this emitter so far"),
        _c("dry_g", "number", "g", "during", "Dry mass caught"),
        _c("cumulative_magnetite_kg", "number", "kg", "during", "Dry magnetite so far, this emitter"),
    ),
)

OUTCOME = Table(
    "ftr_outcome",
    "one row a job",
    ("firm_id", "job_id"),
    (
        FIRM,
        JOB,
        _c("magnet_catches", "integer", "count", "after", "Magnet weighings that count"),
        _c("trap_catches", "integer", "count", "after", "Weighings from strainer and machine base that count"),
        _c("wet_dry_ratio", "number", "ratio", "after", "Wet / dry mass of magnetite used for this job"),
        _c("wet_dry_method", "text", "", "after", "Where that ratio comes from", ("weighed_both_ways", "firm_toml")),
        _c("magnetite_kg", "number", "kg", "after", "Magnetite recovered by the magnet, dry"),
        _c("magnetite_in_traps_kg", "number", "kg", "after", "In strainer and base, dry, that sticks to a magnet"),
        _c("non_magnetic_kg", "number", "kg", "after", "In strainer and base, dry, that does not or was not tried"),
        _c("flush_minutes", "number", "min", "after", "Flush, nights left out; empty: nobody can know"),
        _c("site_minutes", "number", "min", "after", "On site, nights left out; empty: not logged, or nobody can know"),
        _c("is_second_day", "yes_no", "", "after", "The job went into a second day"),
        _c("mean_flow_l_min", "number", "L/min", "after", "Mean flow over the readings"),
        _c("flow_share", "number", "share", "after", "Mean flow / machine maximum"),
        _c("focus_share", "number", "share", "after", "Share of readings with one emitter in focus"),
        _c("rinse_closeness", "number", "share", "after", "Final / mains conductivity − 1"),
    ),
)

CALLBACK = Table(
    "ftr_callback",
    "one row a job",
    ("firm_id", "job_id"),
    (
        FIRM,
        JOB,
        _c(
            "followed_days",
            "integer",
            "days",
            "after",
            "Days in which a callback would have been known: to followed_until, else to the last day on which the firm "
            "handed in callbacks",
        ),
        _c("first_debris_day", "integer", "days", "after", "Days to the first debris callback within them"),
        _c("first_other_day", "integer", "days", "after", "Days to the first callback of another cause within them"),
        _c("first_unknown_day", "integer", "days", "after", "The same, debris or not unknown"),
        _c("observed_days", "integer", "days", "after", "Days to the first debris callback, else followed, ≤ 365"),
        _c("has_debris_callback_365", "yes_no", "", "after", "Debris callback within 365 days; empty: censored"),
        _c("is_censored_365", "yes_no", "", "after", "Follow-up ended before day 365 without one"),
        _c(
            "has_later_callback_365", "yes_no", "", "after", "Callback within 365 days but after follow-up: not counted"
        ),
    ),
)

WET_DRY_PAIR = Table(
    "ftr_wet_dry_pair",
    "one row a trap weighed wet and dry at one moment",
    ("firm_id", "job_id", "trap", "caught_at"),
    (
        FIRM,
        JOB,
        _c("trap", "text", "", "during", "Where it was caught", job_log.TRAPS),
        _c("caught_at", "time", "", "during", "Trap opened and cleaned"),
        _c("wet_dry_ratio", "number", "ratio", "during", "Wet / dry mass of this weighing"),
    ),
)

TABLES: tuple[Table, ...] = (
    *core_tables.TABLES,
    JOB_DAY,
    EMITTER,
    VOLUME,
    QUOTE,
    HEAT,
    WET_DRY_PAIR,
    CATCH_CURVE,
    EMITTER_CURVE,
    OUTCOME,
    CALLBACK,
)
