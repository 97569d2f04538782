"""The rinse is proved on both sides of the mains before inhibitor, and the dose by a reading that differs."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from pipeline.on_site.open_job import SiteEvent, SiteJob
from pipeline.on_site.rinse_proof import at_25_c, before_finishing, dose, readings_at_25_c, rinse

NOON = datetime(2025, 3, 4, 12, 0)
BEGUN = SiteJob("J1", (SiteEvent(1, "e1", "start", NOON, NOON, "", {"flush_started_at": NOON.isoformat()}),))


def test_what_is_missing_is_listed_before_finishing() -> None:
    whole = {
        "boiler_strainer": "cleaned",
        "strainer_checked": True,
        "filter_fitted": "on_return",
        "inhibitor_dosed": True,
        "mains_conductivity_us_cm": 500.0,
        "final_conductivity_us_cm": 520.0,
        "dosed_conductivity_us_cm": 1900.0,
        "final_ph": 7.5,
        "final_turbidity_ntu": 3.0,
    }

    whole |= {"arrived_at": NOON, "left_at": NOON}

    assert {f.code for f in before_finishing(BEGUN, whole, 3)} == {"no_catch", "strength_test"}
    for missing in ("arrived_at", "left_at"):
        assert "hours_open" in {f.code for f in before_finishing(BEGUN, {**whole, missing: None}, 3)}
    assert {"strainer", "base", "filter", "inhibitor"} < {f.code for f in before_finishing(BEGUN, {}, 0)}


@pytest.mark.parametrize(
    ("final", "turbidity", "codes"),
    [
        (None, None, ["rinse_unknown"]),
        (550.0, 4.0, []),  # mains 500: 450 to 550 is within 10 %
        (551.0, 4.0, ["rinse_on"]),
        (450.0, 4.0, []),
        (449.0, 4.0, ["rinse_below_mains"]),
        (540.0, 60.0, ["turbid"]),
    ],
)
@pytest.mark.parametrize("dosed", [False, True])
def test_the_rinse_is_judged_on_both_sides_of_the_mains(
    final: Any, turbidity: Any, codes: list[str], dosed: bool
) -> None:
    """Inhibitor makes no difference: the reading of the last rinse was taken before it went in."""
    facts = {
        "final_conductivity_us_cm": final,
        "mains_conductivity_us_cm": 500.0,
        "final_turbidity_ntu": turbidity,
        "inhibitor_dosed": dosed,
    }

    assert [finding.code for finding in rinse(facts)] == codes


@pytest.mark.parametrize(
    ("rinsed", "after", "codes"),
    [
        (500.0, 500.0, ["dose_missing"]),
        (500.0, 525.0, ["dose_missing"]),  # 5 %: a meter on site shows no less
        (500.0, 526.0, ["strength_test"]),
        (500.0, None, ["strength_test"]),
        (None, 500.0, ["strength_test"]),
    ],
)
def test_water_that_reads_after_dosing_as_before_holds_no_inhibitor(rinsed: Any, after: Any, codes: list[str]) -> None:
    facts = {"final_conductivity_us_cm": rinsed, "dosed_conductivity_us_cm": after}

    assert [finding.code for finding in dose({**facts, "inhibitor_dosed": True})] == codes
    assert dose({**facts, "inhibitor_dosed": False}) == ()


def test_conductivity_is_brought_to_25_degrees() -> None:
    """1.9 % of the value at 25 °C a kelvin (ISO 7888, from memory): 5 K are 9.5 %, water of 55 °C reads 1.57 times."""
    assert at_25_c(1.57 * 400.0, 55.0) == pytest.approx(400.0)
    assert at_25_c(1.095 * 400.0, 30.0) == pytest.approx(400.0)
    assert at_25_c(400.0, 25.0) == 400.0
    assert at_25_c(400.0, None) == 400.0
    with pytest.raises(ValueError, match=r"0\.\.60"):
        at_25_c(400.0, 61.0)


def test_each_reading_of_a_plain_meter_is_brought_to_25_degrees_by_its_own_water() -> None:
    read = {"mains_conductivity_us_cm": 286.0, "final_conductivity_us_cm": 628.0, "final_ph": 7.4}

    facts = readings_at_25_c(read, {"mains_conductivity_us_cm": 10.0, "final_conductivity_us_cm": 55.0})

    assert facts == {"mains_conductivity_us_cm": 400.0, "final_conductivity_us_cm": 400.0, "final_ph": 7.4}
    assert readings_at_25_c(read, {"final_conductivity_us_cm": None}) == read
    assert [finding.code for finding in rinse(read)] == ["rinse_on"]
    assert rinse(facts) == ()
