"""Words that keep a heading from being taken unasked, and what values are usual (common practice, no source).

A heading is taken for a column only where every one of its words is accounted for. What stands here says which
words can be passed over, which speak of something that no column holds, and which phrases fit but do not decide.
"""

from __future__ import annotations

from types import MappingProxyType

DOUBTFUL = MappingProxyType(
    {
        "firm_id": "company|contractor|office",
        "engineer_id": "installer",
        "crew_size": "people|persons|engineers|technicians|fitters|operatives",
        "main_bore_mm": "mains size|pipe size|bore",
        "boiler_output_kw": "output|rated output",
        "install_year": "installed|year installed|year fitted|baujahr",
        "inhibitor_at_survey": "inhibitor",
        "filter_at_survey": "filter|magnetic filter",
        "survey_ph": "ph",
        "survey_conductivity_us_cm": "conductivity|tds|tds before|leitfähigkeit",
        "survey_turbidity_ntu": "turbidity|trübung",
        "survey_iron_mg_l": "iron|eisen",
        "mains_conductivity_us_cm": "mains water|mains tds",
        "predosed_on": "dosed on|chemical added",
        "flush_started_at": "start|started|start time|time on|begin|began|beginn|from",
        "flush_ended_at": "end|ended|finish|finished|end time|time off|stop|ende|to|until",
        "arrived_at": "start|started|start time|time on|begin|beginn|on site|from",
        "left_at": "end|ended|finish|finished|end time|time off|stop|ende|to|until",
        "heater_kw": "heater",
        "machine_max_flow_l_min": "pump flow|max flow|maximum flow",
        "hose_length_m": "hose",
        "hose_bore_mm": "hose|bore",
        "agitation": "vibration|shaking",
        "final_ph": "ph",
        "final_conductivity_us_cm": "conductivity|tds|tds after|leitfähigkeit",
        "final_turbidity_ntu": "turbidity|trübung",
        "final_iron_mg_l": "iron|eisen",
        "filter_fitted": "filter|magnetic filter",
        "inhibitor_dosed": "inhibitor|treated",
        "quoted_minutes": "quoted|estimate",
        "quoted_price": "price|quote|quoted|preis|angebot|estimate",
        "caught_total_kg": "sludge|debris|caught|magnetite|menge|schlamm",
        "charged_price": "price|preis",
        "worked_hours": "time|duration|total time|dauer",
        "came_back": "callback|call back|called back",
        "tail_bore_mm": "valve size",
        "outside_mm": "size|pipe size|diameter|durchmesser",
        "focus_emitter_no": "flow on",
        "mass_g": "catch|debris|sludge|amount|fang|magnetite|caught|wet|dry|dried|damp|drained|nass|trocken",
        "weighed": "dry|wet",
        "flow_temp_c": "temperature|temperature out",
        "return_temp_c": "temperature|temperature in",
        "turbidity_ntu": "cloudiness",
        "conductivity_us_cm": "tds",
        "called_back_on": "callback",
        "debris_related": "debris",
    }
)
"""Contract column → phrases that fit it and do not decide: two columns, or something else, may be meant by them."""

UNIT_DECIDES = frozenset(
    ("mass_g", "caught_total_kg", "worked_hours", "quoted_minutes", "hose_length_m", "hose_bore_mm", "heater_kw")
)
"""Columns of which a doubtful phrase decides where the heading names one of their units: `sludge (kg)` is a mass."""

NEUTRAL = MappingProxyType(
    {
        "jobs": "job",
        "emitters": "emitter radiator radiators",
        "pipe_runs": "pipe run",
        "catches": "catch weighing",
        "readings": "reading logger log meter",
        "callbacks": "callback",
    }
)
"""Words that add nothing to a heading of the table: the thing that its rows are."""

NEUTRAL_ANYWHERE = frozenset(("value", "we", "it", "did"))

NEUTRAL_OF_KIND = MappingProxyType(
    {
        "integer": frozenset(("no", "id", "how", "many")),
        "text": frozenset(("no", "id")),
        "date": frozenset(("when", "what", "on")),
        "time": frozenset(("when", "what", "at")),
    }
)
"""Words that add nothing to a heading of a column of this kind. `catch no` is no mass, `weight no` neither."""

FORBIDDING = frozenset(
    "cost costs price prices charge charged charges paid invoice vat inc incl margin wage rate rates age aged old "
    "colour color make model brand serial photo picture next previous following total running cumulative tare "
    "bucket eimer target setpoint set ambient room lab booked reported left over mains tap fill replaced renewed "
    "new spare centres volume dumped speed head mesh hours hour hrs time taken lost since remaining guarantee "
    "warranty expiry count battery signal serviced survey surveyed delta difference rise guess inside inner "
    "internal gross estimate estimated".split()
)
"""Words that turn a heading into something else, unless the phrase of a column holds them itself."""

STATE_WORDS = MappingProxyType(
    {
        "wet": "wet",
        "damp": "wet",
        "drained": "wet",
        "nass": "wet",
        "feucht": "wet",
        "dry": "dry",
        "dried": "dry",
        "trocken": "dry",
        "getrocknet": "dry",
    }
)
"""Words of a heading that say how a mass was weighed."""

USUAL = MappingProxyType(
    {
        "crew_size": (1, 4),
        "floor_count": (1, 4),
        "main_bore_mm": (15, 54),
        "boiler_output_kw": (5, 100),
        "buffer_l": (10, 1000),
        "install_year": (1950, 2100),
        "last_cleaned_year": (1970, 2100),
        "topups_per_year": (0, 60),
        "survey_conductivity_us_cm": (50, 6000),
        "final_conductivity_us_cm": (30, 6000),
        "dosed_conductivity_us_cm": (30, 6000),
        "mains_conductivity_us_cm": (30, 1500),
        "conductivity_us_cm": (30, 6000),
        "predose_label_ratio": (0.2, 4),
        "label_max_days": (1, 120),
        "heater_kw": (1, 36),
        "machine_max_flow_l_min": (10, 160),
        "hose_length_m": (1, 30),
        "hose_bore_mm": (9, 32),
        "half_drained_emitters": (0, 20),
        "quoted_minutes": (45, 4000),
        "quoted_price": (80, 20_000),
        "charged_price": (80, 20_000),
        "emitter_count_at_survey": (1, 80),
        "cold_count_at_survey": (0, 40),
        "emitter_age_years": (0, 80),
        "caught_total_kg": (0.02, 30),
        "worked_hours": (1, 60),
        "cleaner_put_in_l": (0.25, 20),
        "inhibitor_put_in_l": (0.25, 20),
        "emitter_no": (1, 80),
        "height_mm": (150, 2200),
        "length_mm": (200, 3600),
        "floor_level": (-1, 4),
        "tail_bore_mm": (8, 28),
        "run_no": (1, 300),
        "outside_mm": (8, 54),
        "length_m": (0.2, 100),
        "catch_no": (1, 200),
        "focus_emitter_no": (1, 80),
        "mass_g": (5, 3000),
        "flow_l_min": (1, 120),
        "flow_temp_c": (15, 90),
        "return_temp_c": (15, 90),
        "survey_iron_mg_l": (0, 300),
        "final_iron_mg_l": (0, 100),
        "survey_turbidity_ntu": (0, 3000),
        "final_turbidity_ntu": (0, 1000),
        "turbidity_ntu": (0, 3000),
        "survey_ph": (6, 11),
        "final_ph": (6, 11),
        "ph": (6, 11),
        "pressure_bar": (0.2, 6),
    }
)
"""Contract column → between what the middle half of its values lies in any usual sheet, in the contract's unit."""
