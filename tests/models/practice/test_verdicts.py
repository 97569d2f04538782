"""From an estimate to words: E-values of intervals, power, verdicts, and the place of an engineer on the funnel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.practice.cohort.audited_jobs import Records
from models.practice.effects.verdicts import (
    FALSE_SHARE,
    detectable,
    e_values,
    planned_error,
    round_up,
    two_sided,
    verdict,
)
from models.practice.engineers.casemix import Expected
from models.practice.engineers.funnel import funnel, poisson_limit

# RR 2 has 2 + √2 = 3.414; RR 1.5 has 1.5 + √0.75 = 2.366 (VanderWeele & Ding 2017)


def test_the_e_value_of_an_interval_that_holds_no_effect_is_one() -> None:
    """Risk ratio 2, log 0.693: with an error of 0.4 the interval reaches down to 0.693 − 0.784 < 0."""
    assert e_values(0.2, 0.1, 0.4) == (pytest.approx(2 + np.sqrt(2)), 1.0)
    assert e_values(0.1, 0.2, 0.4) == (pytest.approx(2 + np.sqrt(2)), 1.0)


def test_the_e_value_of_an_interval_is_that_of_its_end_nearer_to_no_effect() -> None:
    """ln 2 less 1.959964 errors of ln(4/3) / 1.959964 is ln 1.5; and turned round for fewer callbacks."""
    error = np.log(4 / 3) / 1.959963985

    for with_, without in ((0.2, 0.1), (0.1, 0.2)):
        of_estimate, of_limit = e_values(with_, without, error)
        assert (of_estimate, of_limit) == pytest.approx((3.41421356, 1.5 + np.sqrt(0.75)))


@pytest.mark.parametrize(("with_", "without"), [(0.0, 0.1), (0.1, 0.0), (-0.01, 0.1)])
def test_no_risk_has_no_e_value(with_: float, without: float) -> None:
    assert e_values(with_, without, 0.1) == (None, None)


@pytest.mark.parametrize(
    ("difference", "q", "said"),
    [
        (-0.02, FALSE_SHARE, "cuts callbacks"),
        (0.02, 0.01, "raises callbacks"),
        (-0.02, FALSE_SHARE + 1e-9, "cannot be told yet"),
        (-0.02, np.nan, "cannot be told yet"),
        (-0.02, None, "cannot be told yet"),
        (None, 0.01, "cannot be told yet"),
    ],
)
def test_a_verdict_needs_a_difference_and_a_small_q(difference: float | None, q: float | None, said: str) -> None:
    assert verdict(difference, q) == said


def test_power_by_hand() -> None:
    """1.959964 + 0.841621 = 2.801585 errors; 200 jobs, a quarter with, risk 0.1: √(0.09 / (200 · 3/16)) = 0.04899, a
    third more for the adjustment by 1.3."""
    assert detectable(0.01, 0.05) == pytest.approx(0.02801585, abs=1e-8)
    assert planned_error(200, 0.25, 0.1) == pytest.approx(1.3 * 0.0489898, abs=1e-6)
    assert planned_error(200, 0.25, 0.1, inflation=1.0) == pytest.approx(0.0489898, abs=1e-6)
    assert two_sided(0.3, 0.0) == 1.0


@pytest.mark.parametrize(("number", "told"), [(10.0, 10), (10.1, 11), (99.0, 99), (100.0, 100), (101.0, 110)])
def test_rounding_up_leaves_what_has_two_figures(number: float, told: int) -> None:
    assert round_up(number) == told


def crew_of(records: Records, jobs: int, seen: list[int], due: float) -> tuple[Records, Expected]:
    """Engineers of `jobs` jobs each, `due` callbacks to expect of each, `seen` callbacks; two firms share their
    names."""
    k = len(seen)
    engineer = np.repeat(np.arange(k), jobs)
    came = np.concatenate([np.arange(jobs) < calls for calls in seen]).astype(float)
    names = pd.DataFrame(
        {"firm_id": np.where(engineer % 2 == 0, "a", "b"), "engineer_id": [f"E{at // 2}" for at in engineer]}
    )
    n = len(engineer)
    return (
        replace(records, frame=names, engineer=engineer, engineers=k, days=np.full(n, 365.0), is_event=came > 0),
        Expected(np.full(n, due / jobs), np.full(n, due / jobs), came),
    )


def test_between_the_95_and_the_998_limit_an_engineer_is_within_limits(records: Records) -> None:
    """10 expected: limits 0.3775 to 1.6160 and 0.1221 to 2.0662 (held to published figures elsewhere), so of 10
    expected 18 are between the two above, 3 between the two below, 22 and 1 beyond."""
    ten, counts = 10.0, [18, 3, 22, 1] + [10] * 16
    found = funnel(*crew_of(records, 100, counts, ten), 0.1)

    places = {(each.firm_id, each.engineer_id): each.place for each in found.engineers}
    assert not found.is_over_dispersed
    assert len(places) == 20
    assert [places["a", "E0"], places["b", "E0"]] == ["within limits", "within limits"]
    assert [places["a", "E1"], places["b", "E1"]] == ["more than expected", "fewer than expected"]
    first = next(each for each in found.engineers if (each.firm_id, each.engineer_id) == ("a", "E0"))
    assert first.ratio == pytest.approx(1.8)
    assert first.high_95 is not None
    assert first.high_998 is not None
    assert first.high_95 < 1.8 < first.high_998
    assert first.high_998 == pytest.approx(float(poisson_limit(ten, 0.999)))
    assert (first.risk, first.adjusted_risk) == pytest.approx((0.18, 0.18))


def test_an_engineer_with_one_job_is_named_without_a_figure(records: Records) -> None:
    many, expected = crew_of(records, 25, [2, 3, 2, 3], 2.5)
    one = replace(
        many,
        frame=pd.concat([many.frame, many.frame.iloc[:1].assign(engineer_id="one")], ignore_index=True),
        engineer=np.append(many.engineer, 4),
        engineers=5,
        days=np.append(many.days, 365.0),
        is_event=np.append(many.is_event, True),
    )
    due = Expected(*(np.append(part, 1.0) for part in (expected.risk, expected.cumulated, expected.seen)))

    shown = {each.engineer_id: each for each in funnel(one, due, 0.1).engineers}

    assert (shown["one"].jobs, shown["one"].place, shown["one"].observed) == (1, "too few jobs", None)
    assert shown["E0"].place == "within limits"
