"""The job log format: what a firm hands to the book, table by table, column by column."""

from __future__ import annotations

from pipeline.contract.columns import Column, Table
from pipeline.contract.job_totals import COUNTED, PUT_IN, SURFACES, TOTAL_NAMES, TOTALS
from pipeline.contract.nights import RULE as NIGHTS

C = Column

FIRM_ID = C("firm_id", "text", "Contractor or branch; `own` when left out of every table", known_by="key")
JOB_ID = C("job_id", "text", "Job, unique within the firm", known_by="key", required=True)

PROPERTY_KINDS = ("house", "bungalow", "flat", "terrace", "other", "semi_detached")
SYSTEM_TYPES = ("open_vented", "sealed")
PIPE_LAYOUTS = ("two_pipe", "one_pipe", "microbore_manifold")
BOILER_KINDS = ("heat_only", "system", "combi", "heat_pump", "other")
HEAT_SOURCES = ("none", "boiler", "inline_heater", "both")
CONNECTIONS = ("boiler_flow_return", "pump_tails", "emitter_tails", "emitter_valves", "microbore_tails")
ISOLATIONS = ("one_at_a_time", "groups", "all_open")
AGITATIONS = ("none", "valve_bounce", "vibration", "both")
STRAINERS = ("none_found", "cleaned", "removed_and_refitted", "left_in")
FILTERS = ("none", "on_return", "on_flow", "already_there")
EMITTER_KINDS = (
    "panel_10",
    "panel_11",
    "panel_20",
    "panel_21",
    "panel_22",
    "panel_33",
    "column",
    "towel_rail",
    "convector",
    "underfloor_loop",
    "coil",
)
VALVE_KINDS = ("manual", "thermostatic")
TRAPS = ("magnet", "strainer", "machine_base")
CAUSES = ("blockage", "cold_emitter", "noise", "pump", "boiler_fault", "leak", "other")

_YEAR_RULE = "not after the year of the visit"

JOBS = Table(
    "jobs",
    "one row a job",
    ("firm_id", "job_id"),
    (
        FIRM_ID,
        JOB_ID,
        C("engineer_id", "text", "Who led the clean, as an id", known_by="plan"),
        C("crew_size", "integer", "People on site", "count", "plan", low=1, high=6),
        C("property_kind", "choice", "Kind of property", choices=PROPERTY_KINDS),
        C("floor_count", "integer", "Storeys the system serves", "count", low=1, high=6),
        C("postcode_district", "text", "Outward part of the postcode only"),
        C("system_type", "choice", "Open-vented or sealed", required=True, unless=TOTAL_NAMES, choices=SYSTEM_TYPES),
        C("pipe_layout", "choice", "Pipework as found", choices=PIPE_LAYOUTS),
        C(
            "main_bore_mm",
            "number",
            "Outside diameter of the mains at the heat source, as tube is sold",
            "mm",
            low=12,
            high=54,
        ),
        C("boiler_kind", "choice", "Kind of heat source", choices=BOILER_KINDS),
        C("boiler_output_kw", "number", "Output of the heat source", "kW", low=3, high=200),
        C(
            "aluminium_exchanger",
            "yes_no",
            "The heat source has an aluminium heat exchanger, which acid and alkaline cleaners eat",
        ),
        C(
            "buffer_l",
            "number",
            "Water of buffer, store and coils on the heating circuit together; 0: there is none",
            "L",
            low=0,
            high=2000,
        ),
        C("install_year", "integer", "Year the emitters went in", "year", low=1930, rule=_YEAR_RULE),
        C(
            "last_cleaned_year",
            "integer",
            "Year of the last clean; empty: never or not known",
            "year",
            low=1930,
            rule=_YEAR_RULE,
        ),
        *COUNTED,
        C("inhibitor_at_survey", "yes_no", "Inhibitor was in the water at survey"),
        C("filter_at_survey", "yes_no", "A magnetic filter was already fitted"),
        C("known_building_debris", "yes_no", "Sand, cement or tank debris is known or suspected"),
        C("antifreeze_at_survey", "yes_no", "The system water holds antifreeze (glycol)"),
        C("topups_per_year", "number", "How often pressure or the tank had to be topped up", "1/year", low=0, high=365),
        C("survey_ph", "number", "System water at survey, pH", "pH", low=0, high=14, warn_low=6, warn_high=11),
        C("survey_conductivity_us_cm", "number", "System water at survey, conductivity", "µS/cm", low=0, high=20000),
        C("survey_turbidity_ntu", "number", "System water at survey, turbidity", "NTU", low=0, high=10000),
        C("survey_iron_mg_l", "number", "System water at survey, iron", "mg/L", low=0, high=5000),
        C("mains_conductivity_us_cm", "number", "Fill water, conductivity at 25 °C", "µS/cm", low=0, high=5000),
        C(
            "predosed_on",
            "date",
            "Day the cleaning chemical went in, ahead of the visit",
            known_by="plan",
            rule="not after visit_date, within 90 days of it",
        ),
        C(
            "predose_label_ratio",
            "number",
            "Amount dosed / label amount for the volume",
            "ratio",
            "plan",
            low=0,
            high=5,
        ),
        C("label_max_days", "integer", "Longest the label lets that chemical stay in", "days", "plan", low=0, high=365),
        C(
            "cleaner_suits_aluminium",
            "yes_no",
            "The cleaning chemical's label says that it may go into a system with aluminium",
            known_by="plan",
        ),
        C(
            "visit_date",
            "date",
            "First day on site",
            known_by="plan",
            required=True,
            rule="1980-01-01..the day of loading",
        ),
        C(
            "flush_started_at",
            "time",
            "Flow through the machine begins",
            known_by="during",
            required=True,
            unless=TOTAL_NAMES,
            rule="on or after visit_date; more than 5 days after it loads with a warning",
        ),
        C(
            "flush_ended_at",
            "time",
            "Flow ends",
            known_by="during",
            required=True,
            unless=TOTAL_NAMES,
            rule="after flush_started_at, within 5 days",
        ),
        C("arrived_at", "time", "On site", known_by="during", rule="not after flush_started_at"),
        C("left_at", "time", "Off site", known_by="during", rule="not before flush_ended_at"),
        C("heat_source", "choice", "Heat during the flush", known_by="plan", choices=HEAT_SOURCES),
        C("heater_kw", "number", "Rating of the inline heater", "kW", "plan", low=0, high=50),
        C("connection", "choice", "Where the hoses join", known_by="plan", choices=CONNECTIONS),
        C(
            "machine_max_flow_l_min",
            "number",
            "Machine flow with hoses open to each other",
            "L/min",
            "plan",
            low=1,
            high=200,
        ),
        C(
            "machine_open_tank",
            "yes_no",
            "The machine's tank is open to the air: a sealed system has no pressure while it runs",
            known_by="plan",
        ),
        C("hose_length_m", "number", "Hose length, each way", "m", "plan", low=0.5, high=60),
        C("hose_bore_mm", "number", "Hose bore", "mm", "plan", low=6, high=40),
        C("isolation", "choice", "How the flow was focused", known_by="plan", choices=ISOLATIONS),
        C("agitation", "choice", "How settled rust was shaken", known_by="plan", choices=AGITATIONS),
        C("half_drained_emitters", "integer", "Emitters flushed half empty", "count", "during", low=0, high=60),
        C("flow_reversed", "yes_no", "Flow was reversed during the flush", known_by="during"),
        C(
            "boiler_strainer",
            "choice",
            "What was done with the strainer at the heat source",
            known_by="during",
            choices=STRAINERS,
        ),
        C(
            "strainer_checked",
            "yes_no",
            "Non-magnetic trap and machine base looked at during the job",
            known_by="during",
        ),
        C(
            "final_ph",
            "number",
            "Water left in the system, pH",
            "pH",
            "after",
            low=0,
            high=14,
            warn_low=6,
            warn_high=11,
        ),
        C(
            "final_conductivity_us_cm",
            "number",
            "Last rinse, conductivity at 25 °C before inhibitor goes in",
            "µS/cm",
            "after",
            low=0,
            high=20000,
        ),
        C(
            "dosed_conductivity_us_cm",
            "number",
            "Water left in the system, conductivity at 25 °C once inhibitor is in and mixed",
            "µS/cm",
            "after",
            low=0,
            high=20000,
        ),
        C("final_turbidity_ntu", "number", "Water left in the system, turbidity", "NTU", "after", low=0, high=10000),
        C("final_iron_mg_l", "number", "Water left in the system, iron", "mg/L", "after", low=0, high=5000),
        C("filter_fitted", "choice", "Magnetic filter left in the system", known_by="after", choices=FILTERS),
        C("inhibitor_dosed", "yes_no", "Inhibitor was dosed at the end", known_by="after"),
        *PUT_IN,
        C("quoted_minutes", "number", "Time quoted", "min", "plan", low=0, high=7200),
        C(
            "quoted_price",
            "number",
            "Price quoted before tax, in the book's currency",
            "currency",
            "plan",
            low=0,
            high=100000,
        ),
        *TOTALS,
        C(
            "followed_until",
            "date",
            "Last day on which a callback would have been known; empty: the last day on which the firm handed in "
            "callbacks",
            known_by="after",
            rule="not before visit_date; after the day of loading it counts to that day, or to the last day on which "
            "callbacks were handed in",
        ),
    ),
    rules=NIGHTS,
)

EMITTERS = Table(
    "emitters",
    "one row an emitter",
    ("firm_id", "job_id", "emitter_no"),
    (
        FIRM_ID,
        JOB_ID,
        C("emitter_no", "integer", "Emitter, numbered within the job", known_by="key", required=True, low=1, high=200),
        C("emitter_kind", "choice", "Kind; panel_RC has R panels and C rows of fins", choices=EMITTER_KINDS),
        C("room", "text", "Room it stands in, as the household calls it; no names of people"),
        C("height_mm", "number", "Height", "mm", low=100, high=3000),
        C("length_mm", "number", "Length", "mm", low=100, high=6000),
        C("floor_level", "integer", "Floor it stands on, ground = 0", "storey", low=-2, high=6),
        C("tail_bore_mm", "number", "Outside diameter of its tails", "mm", low=6, high=35),
        C("valve_kind", "choice", "Kind of its valve: a thermostatic body lets less through", choices=VALVE_KINDS),
        C("cold_at_survey", "yes_no", "Cold at the bottom or in the middle at survey"),
        *SURFACES,
    ),
    rules=(
        "Water content: litres a metre of its kind and height times its length, between the two tabulated heights next "
        "to its own in proportion, beyond the table its end. A height or length not logged takes the typical one of "
        "the kind; an underfloor loop or coil always does, its length being that of the floor or casing; without a "
        "kind it is a typical emitter.",
    ),
)

PIPE_RUNS = Table(
    "pipe_runs",
    "one row a run of pipe",
    ("firm_id", "job_id", "run_no"),
    (
        FIRM_ID,
        JOB_ID,
        C("run_no", "integer", "Run, numbered within the job", known_by="key", required=True, low=1, high=1000),
        C("material", "choice", "Material", choices=("copper", "plastic", "steel")),
        C("outside_mm", "number", "Outside diameter", "mm", required=True, low=6, high=80),
        C("length_m", "number", "Length", "m", required=True, low=0, high=500),
    ),
    optional=True,
)

_WITHIN_VISIT = "within the visit: from visit_date to the last day on site"

CATCHES = Table(
    "catches",
    "one row a weighing",
    ("firm_id", "job_id", "catch_no"),
    (
        FIRM_ID,
        JOB_ID,
        C(
            "catch_no",
            "integer",
            "Weighing, numbered within the job",
            known_by="key",
            required=True,
            unless=("caught_at",),
            low=1,
            rule="empty: numbered by its time, trap and whether it is wet or dry",
        ),
        C("caught_at", "time", "Trap opened and cleaned", known_by="during", required=True, rule=_WITHIN_VISIT),
        C(
            "focus_emitter_no",
            "integer",
            "Emitter that had the flow since the last catch; empty: whole system",
            known_by="during",
            low=1,
            high=200,
        ),
        C("trap", "choice", "Where it was caught", known_by="during", required=True, choices=TRAPS),
        C("mass_g", "number", "Mass weighed", "g", "during", required=True, low=0, high=20000),
        C("weighed", "choice", "Weighed wet or dry; empty: wet", known_by="during", choices=("wet", "dry")),
        C(
            "sticks_to_magnet",
            "yes_no",
            "Strainer and machine base: most of the dried catch sticks to a magnet, so that it is magnetite",
            known_by="during",
        ),
        C("note", "text", "Note", known_by="during"),
    ),
    rules=(
        "Within the visit: from 00:00 of visit_date to 00:00 after the last day on site, or an hour after "
        "flush_ended_at where that is later.",
        "A trap weighed wet and dry at one moment (same job, trap and caught_at): the dry masses count and the wet "
        "ones do not, however many there are. A dry 0 g beside a wet mass counts for nothing, the wet mass counts.",
        "Magnetite (the magnet's catch, and what sticks to a magnet) weighed wet alone is divided by the firm's wet / "
        "dry ratio: the median of its catches of magnetite weighed exactly once wet and once dry at one moment, dry "
        "not heavier than wet, rounded to 0.01; without any, the figure of the settings. A ratio outside 1.3..2.7 is "
        "warned of. Other debris (sand, cement, scale) is divided by a ratio of its own, from the settings.",
    ),
)

READINGS = Table(
    "readings",
    "one row a reading",
    ("firm_id", "job_id", "read_at"),
    (
        FIRM_ID,
        JOB_ID,
        C("read_at", "time", "Time of the reading", known_by="key", required=True, rule=_WITHIN_VISIT),
        C(
            "focus_emitter_no",
            "integer",
            "Emitter that has the flow; empty: whole system",
            known_by="during",
            low=1,
            high=200,
        ),
        C("flow_l_min", "number", "Flow", "L/min", "during", low=0, high=200),
        C("flow_temp_c", "number", "Flow temperature", "°C", "during", low=0, high=100, warn_low=5, warn_high=90),
        C("return_temp_c", "number", "Return temperature", "°C", "during", low=0, high=100, warn_low=5, warn_high=90),
        C("turbidity_ntu", "number", "Turbidity", "NTU", "during", low=0, high=10000),
        C("conductivity_us_cm", "number", "Conductivity", "µS/cm", "during", low=0, high=20000),
        C("ph", "number", "pH", "pH", "during", low=0, high=14),
        C("pressure_bar", "number", "System pressure", "bar", "during", low=0, high=10),
    ),
)

CALLBACKS = Table(
    "callbacks",
    "one row a return visit",
    ("firm_id", "job_id", "called_back_on", "cause"),
    (
        FIRM_ID,
        JOB_ID,
        C(
            "called_back_on",
            "date",
            "Day of the return visit",
            known_by="key",
            required=True,
            rule="not before visit_date, not after the day of loading",
        ),
        C("cause", "choice", "Cause found", known_by="key", required=True, choices=CAUSES),
        C("debris_related", "yes_no", "Debris was the cause; empty: by the cause", known_by="after"),
        C(
            "emitter_no",
            "integer",
            "Emitter that it was about; empty: the whole system or not known",
            known_by="after",
            low=1,
            high=200,
        ),
    ),
    rules=(
        "Two causes on one day are two rows. To take back a cause that was wrong, hand its row in again with "
        "debris_related no.",
        "With debris_related empty, blockage, cold_emitter, noise and pump count as debris, leak and other do not, "
        "boiler_fault is not known.",
        "A firm that has handed in no callback at all is left out of every rate: none on record is not the same as "
        "none.",
    ),
)

TABLES: tuple[Table, ...] = (JOBS, EMITTERS, PIPE_RUNS, CATCHES, READINGS, CALLBACKS)
