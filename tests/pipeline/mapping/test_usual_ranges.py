"""Between what the middle half of a column lies in a usual sheet: written out once more, so that a slip is seen.

Common practice, no source: what a heating engineer would write down of houses, flushes and water.
"""

from __future__ import annotations

import pytest

from pipeline.contract import JOB_LOG
from pipeline.mapping.heading_doubts import STATE_WORDS, USUAL

WRITTEN_OUT = """
emitter_count_at_survey 1 80; cold_count_at_survey 0 40; emitter_age_years 0 80; caught_total_kg 0.02 30
worked_hours 1 60; charged_price 80 20000; cleaner_put_in_l 0.25 20; inhibitor_put_in_l 0.25 20
buffer_l 10 1000; dosed_conductivity_us_cm 30 6000
crew_size 1 4; floor_count 1 4; main_bore_mm 15 54; boiler_output_kw 5 100; install_year 1950 2100
last_cleaned_year 1970 2100; topups_per_year 0 60; predose_label_ratio 0.2 4; label_max_days 1 120
heater_kw 1 36; machine_max_flow_l_min 10 160; hose_length_m 1 30; hose_bore_mm 9 32; half_drained_emitters 0 20
quoted_minutes 45 4000; quoted_price 80 20000; emitter_no 1 80; focus_emitter_no 1 80; catch_no 1 200; run_no 1 300
height_mm 150 2200; length_mm 200 3600; floor_level -1 4; tail_bore_mm 8 28; outside_mm 8 54; length_m 0.2 100
mass_g 5 3000; flow_l_min 1 120; flow_temp_c 15 90; return_temp_c 15 90; pressure_bar 0.2 6
survey_conductivity_us_cm 50 6000; final_conductivity_us_cm 30 6000; conductivity_us_cm 30 6000
mains_conductivity_us_cm 30 1500; survey_iron_mg_l 0 300; final_iron_mg_l 0 100; survey_ph 6 11; final_ph 6 11; ph 6 11
survey_turbidity_ntu 0 3000; final_turbidity_ntu 0 1000; turbidity_ntu 0 3000
"""


def test_the_usual_ranges_are_these() -> None:
    lines = [line.split() for line in WRITTEN_OUT.replace(";", "\n").splitlines() if line.strip()]

    assert dict(USUAL) == {name: (float(low), float(high)) for name, low, high in lines}


@pytest.mark.parametrize("name", USUAL)
def test_what_is_usual_is_allowed_by_the_job_log(name: str) -> None:
    columns = [table.column(name) for table in JOB_LOG.values() if name in table.names]
    low, high = USUAL[name]

    assert columns
    for column in columns:
        assert low < high
        assert column.low is None or column.low <= low
        assert column.high is None or high <= column.high


def test_words_for_wet_and_dry_are_these() -> None:
    assert {word for word, state in STATE_WORDS.items() if state == "wet"} == set(
        "wet damp drained nass feucht".split()
    )
    assert {word for word, state in STATE_WORDS.items() if state == "dry"} == set(
        "dry dried trocken getrocknet".split()
    )
