"""Stops and cautions follow from a job's own row, and from nothing that nobody wrote down."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from pipeline.contract.findings import BadInput
from pipeline.contract.firm import Firm
from pipeline.contract.job_cautions import cautions, stops
from pipeline.quotes.requests import request_features, requests_from_tables

DOSED = {"predosed_on": date(2025, 3, 1)}


def codes(**job: Any) -> list[str]:
    return [finding.code for finding in cautions(job)]


@pytest.mark.parametrize(
    ("job", "is_stopped"),
    [
        ({"aluminium_exchanger": True, **DOSED}, True),
        ({"aluminium_exchanger": True, "predose_label_ratio": 0.5}, True),
        ({"aluminium_exchanger": True, **DOSED, "cleaner_suits_aluminium": False}, True),
        ({"aluminium_exchanger": True, **DOSED, "cleaner_suits_aluminium": True}, False),
        ({"aluminium_exchanger": True}, False),
        ({"aluminium_exchanger": False, **DOSED}, False),
        ({**DOSED}, False),
    ],
)
def test_a_cleaner_in_a_system_with_aluminium_is_a_stop_unless_its_label_allows_it(
    job: dict[str, Any], is_stopped: bool
) -> None:
    assert [finding.code for finding in stops(job)] == ["stop_aluminium"] * is_stopped


def test_a_stopped_plan_is_not_quoted_and_the_other_jobs_are() -> None:
    jobs = [
        {"job_id": "a", "system_type": "sealed", "visit_date": "2025-03-04", "aluminium_exchanger": "yes"},
        {"job_id": "b", "system_type": "sealed", "visit_date": "2025-03-04", "aluminium_exchanger": "no"},
    ]
    planned = [{**job, "predosed_on": "2025-03-01"} for job in jobs]
    asked = requests_from_tables(planned)

    assert asked.jobs["job_id"].to_list() == ["b"]
    assert [(each.job_id, each.reason.startswith("Stop: ")) for each in asked.refused] == [("a", True)]
    with pytest.raises(BadInput, match="aluminium"):
        requests_from_tables(planned[:1])
    told = request_features(requests_from_tables(jobs), Firm())
    assert [f.code for f in told.of_job("own", "a")] == ["aluminium"]
    assert told.of_job("own", "b") == ()


def test_nine_kilowatts_are_39_amperes_and_a_socket_gives_three() -> None:
    """9,000 W / 230 V = 39.1 A; 13 A · 230 V = 2.99 kW."""
    large, small = (cautions({"heat_source": "inline_heater", "heater_kw": kw})[0] for kw in (9.0, 3.0))

    assert "39 A" in large.sentence
    assert "supply of its own" in large.sentence
    assert "supply of its own" not in small.sentence
    assert all("RCD" in each.sentence for each in (large, small))
    assert codes(heat_source="none", heater_kw=9.0) == []


@pytest.mark.parametrize(
    ("job", "expected"),
    [
        ({**DOSED}, ["aluminium_not_known", "notice"]),
        ({"heat_source": "boiler", "system_type": "open_vented"}, ["vent_open"]),
        ({"heat_source": "boiler", "system_type": "sealed"}, []),
        ({"machine_open_tank": True}, ["open_tank"]),
        ({"antifreeze_at_survey": True}, ["antifreeze"]),
        ({"aluminium_exchanger": float("nan"), "heater_kw": float("nan"), "predosed_on": None}, []),
    ],
)
def test_each_caution_comes_with_what_it_is_about(job: dict[str, Any], expected: list[str]) -> None:
    assert codes(**job) == expected


def test_a_boiler_is_not_counted_on_where_an_open_tank_takes_a_sealed_systems_pressure() -> None:
    job = {"machine_open_tank": True, "heat_source": "boiler"}
    sealed, vented = (cautions({**job, "system_type": kind}) for kind in ("sealed", "open_vented"))

    assert any("locks out" in finding.sentence for finding in sealed)
    assert not any("locks out" in finding.sentence for finding in vented)
