"""The mean at each dose by hand, the raw difference of groups of which one is empty, and what jobs are planned for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest

from models.practice.cohort.audited_jobs import Records
from models.practice.cohort.confounders import Known
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects import dose_response
from models.practice.effects.doubly_robust import Compared
from models.practice.effects.effect import _judged, _raw
from models.practice.nuisance.information_matrix import Design
from models.practice.nuisance.nuisance_fits import ITSELF
from models.practice.results.audit_result import Overlap, PracticeEffect
from tests.dashboard.audit_maker import effect

DAY = pd.Timestamp("2025-03-04")
FILTER = BY_NAME["filter_fitted:on_return|none"]


def test_each_dose_but_none_has_a_mark_of_its_own_before_what_was_known() -> None:
    design = Design(np.array([[7.0], [8.0], [9.0], [6.0]]), np.array([4]), np.array([0, 0, 1, -1]), 2)

    found = dose_response._with_dose(design, np.array([0, 1, 2, 1]), 3)

    assert found.x.tolist() == [[0, 0, 7], [1, 0, 8], [0, 1, 9], [1, 0, 6]]
    assert found.block.tolist() == [ITSELF, ITSELF, 4]
    assert (found.group is design.group, found.groups) == (True, 2)


@dataclass
class Fit:
    """Says 0.1 of a job without a dose and 0.2 of one with; a second one says 0.05 more."""

    more: float

    def predict(self, design: Design) -> np.ndarray:
        return 0.1 + 0.1 * design.x[:, 0] + self.more


def four_jobs() -> Records:
    """None, a dose, a dose, none, an engineer each; the first and the third called back within the year."""
    event, days = np.array([True, False, True, False]), np.full(4, 365.0)
    known = Known(
        np.array([[1.0], [2.0], [4.0], [8.0]]),
        np.zeros(1, dtype=np.int64),
        ("k",),
        ("k",),
        ("",),
        np.zeros(1, dtype=np.int64),
    )
    frame = pd.DataFrame({"predose_days": [0.0, 7.0, 7.0, 0.0], "property_kind": "house", "visit_date": DAY})
    return Records(frame, days, event, days, event.astype(np.int64), np.arange(4), 4, known, {}, 0)


def test_the_mean_at_a_dose_weighs_each_miss_by_the_chance_of_that_dose(monkeypatch: pytest.MonkeyPatch) -> None:
    """None: chances 1/2 and 1/4 give weights 2 and 4, over their mean of 3/2: 4/3 and 8/3. Expected 0.1, 0.1, 0.15,
    0.15; the first missed by 0.9, the last by −0.15. A dose: chances 0.01, raised to 0.02, and 0.05 give 50 and 20,
    over 35/2: 20/7 and 8/7; expected 0.2, 0.2, 0.25, 0.25; missed by −0.2 and 0.75."""
    dose, asked = np.array([0, 1, 1, 0]), []

    def crossed(design: Design, outcome: np.ndarray, kind: str, fold: np.ndarray) -> Iterator[tuple[np.ndarray, Fit]]:
        asked.append((design.x.tolist(), outcome.tolist(), kind, len(fold)))
        yield np.array([0, 1]), Fit(0.0)
        yield np.array([2, 3]), Fit(0.05)

    def chances(_: Design, has: np.ndarray, fold: np.ndarray) -> np.ndarray:
        return np.array([0.5, 9, 9, 0.25]) if has[0] else np.array([9, 0.01, 0.05, 9])

    monkeypatch.setattr(dose_response, "crossed", crossed)
    monkeypatch.setattr(dose_response, "chances", chances)
    means, influence = dose_response._means(four_jobs(), np.arange(4), dose, 2)

    assert asked == [([[0, 1], [1, 2], [1, 4], [0, 8]], [1, 0, 1, 0], "logistic", 4)]
    none = np.array([0.1 + 4 / 3 * 0.9, 0.1, 0.15, 0.15 - 8 / 3 * 0.15])
    some = np.array([0.2, 0.2 - 20 / 7 * 0.2, 0.25 + 8 / 7 * 0.75, 0.25])
    assert means == pytest.approx([none.mean(), some.mean()])
    assert influence == pytest.approx(np.column_stack([none - none.mean(), some - some.mean()]))


def compared(with_: list[float], without: list[float]) -> Compared:
    """Days of jobs with and without; a whole number of days is a callback, a half the end of follow-up."""
    days = np.array([*with_, *without])
    a = np.arange(len(days)) < len(with_)
    return Compared(FILTER, np.arange(len(days)), a, days, days == np.floor(days))


@pytest.mark.parametrize(("with_", "without"), [([100.0], []), ([], [100.0]), ([], [])])
def test_without_both_groups_there_is_no_raw_difference(with_: list[float], without: list[float]) -> None:
    assert _raw(compared(with_, without)) is None


def test_the_raw_difference_is_that_of_the_two_curves_at_the_year() -> None:
    """With: 1 of 4 called back: 3/4 are free, Greenwood error 3/4 · √(1 / (4 · 3)). Without: 2 of 4 in turn,
    3/4 · 2/3 = 1/2 free, error 1/2 · √(1/12 + 1/6) = 1/4."""
    found = _raw(compared([10.0, 400.5, 400.5, 400.5], [10.0, 20.0, 400.5, 400.5]))

    assert found is not None
    assert (found.risk_with, found.risk_without, found.difference) == pytest.approx((0.25, 0.5, -0.25))
    half = 1.959964 * np.hypot(0.75 * np.sqrt(1 / 12), 0.25)
    assert (found.low, found.high) == pytest.approx((-0.25 - half, -0.25 + half), rel=1e-6)


OVERLAP = Overlap(0, 0.0, 1.0, 1.0, 0.1, 0.9, (0.0, 1.0), (1,), (1,))
NONE = dict.fromkeys(("difference", "low", "high", "standard_error", "risk_with", "risk_without"))


def untold(**changes: object) -> PracticeEffect:
    """100 jobs, 25 of them with; nothing could be worked out."""
    given: dict[str, object] = {**NONE, "jobs": 100, "jobs_with": 25, "jobs_without": 75, "worth": None, **changes}
    return replace(effect("cannot be told yet", -0.05), **given)  # type: ignore[arg-type]


def test_an_effect_that_was_not_worked_out_is_planned_from_how_many_do_it() -> None:
    """Error 1.3 · √(0.1 · 0.9 / (100 · ¼ · ¾)) = 0.090067; 80 % chance to show it: (1.959964 + 0.841621) times that."""
    found = _judged(untold(), np.nan, 0.1, 0.05)

    assert found.detectable_difference == pytest.approx(2.801585 * 1.3 * np.sqrt(0.0048), rel=1e-5)
    assert found.target_difference == pytest.approx(-0.025)
    assert (found.verdict, found.q_value) == ("cannot be told yet", None)


@pytest.mark.parametrize(
    ("changes", "risk"),
    [
        ({"jobs_with": 0}, 0.1),
        ({"jobs_with": 100}, 0.1),
        ({"jobs": 0, "jobs_with": 0}, 0.1),
        ({"overlap": OVERLAP}, 0.1),
        ({}, 0.0),
    ],
)
def test_nothing_is_planned_where_more_of_the_same_would_show_nothing(changes: dict[str, object], risk: float) -> None:
    found = _judged(untold(detectable_difference=None, target_difference=None, **changes), np.nan, risk, 0.05)

    assert (found.detectable_difference, found.target_difference) == (None, None)


def test_what_was_worked_out_is_planned_from_its_own_error_and_at_least_one_in_a_hundred() -> None:
    for risk, target in ((0.2, -0.05), (0.004, -0.0025)):
        own = replace(
            effect("cannot be told yet", -0.001), standard_error=0.02, risk_without=risk, low=-0.04, high=0.04
        )
        found = _judged(own, 0.3, 0.1, 0.05)

        assert found.detectable_difference == pytest.approx(2.801585 * 0.02, rel=1e-5)
        assert (found.target_difference, found.q_value) == (pytest.approx(target), 0.3)
