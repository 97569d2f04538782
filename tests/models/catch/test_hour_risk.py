"""One more hour and callbacks: the kilograms times what a kilogram does, or nothing at all."""

from __future__ import annotations

from dataclasses import replace

import pytest

from models.catch.hour_risk import with_risk
from models.catch.records.watch_result import OneMoreHour, Watch
from models.catch.watch import watch
from models.practice.results.curve_results import RiskPerKg
from models.quantiles import Quantiles
from tests.models.catch.warnings.test_warnings import SOUND, job

HALF_KG = Quantiles(0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 1.0)
TOLD = RiskPerKg(-0.04, -0.06, -0.02, 365, 3000, 1.5, 24.0)


@pytest.fixture
def seen() -> Watch:
    return replace(watch(job(SOUND)), one_more_hour=OneMoreHour(HALF_KG, 32.0, 64.0, "GBP"))


def test_the_change_is_kilograms_times_what_one_does(seen: Watch) -> None:
    hour = with_risk(seen, TOLD).one_more_hour

    assert hour is not None
    assert hour.callback_change is not None
    change = hour.callback_change
    # 0.5 kg at −4 (−6 to −2) points a kilogram: −2 (−3 to −1) points
    assert (change.low, change.middle, change.high) == pytest.approx((-0.03, -0.02, -0.01))


@pytest.mark.parametrize(
    "risk", [None, replace(TOLD, per_kg=None, low=None, high=None, refused="too little"), replace(TOLD, usual_kg=0.4)]
)
def test_where_the_audit_cannot_tell_nothing_stands_there(seen: Watch, risk: RiskPerKg | None) -> None:
    assert with_risk(seen, risk) == seen
