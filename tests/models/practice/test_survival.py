"""Curves and pseudo-outcomes against a reference library, brute force and sums by hand."""

from __future__ import annotations

import numpy as np
import pytest
from lifelines import AalenJohansenFitter, KaplanMeierFitter

from models.practice.cohort.censoring import FEWEST_IN_STRATUM, outcomes_by_stratum, pseudo_outcomes, strata
from models.practice.survival import at_risk_on, cumulative_incidence, kaplan_meier, value_at


def competing(seed: int = 1, n: int = 500) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    first, second, end = rng.exponential(900, n), rng.exponential(1200, n), rng.uniform(100, 900, n)
    days = np.minimum(np.minimum(first, second), end)
    return days, np.where(end <= days, 0, np.where(first <= second, 1, 2))


def test_kaplan_meier_intervals_equal_those_of_the_reference_library() -> None:
    days, kind = competing()
    reference = KaplanMeierFitter().fit(days, kind == 1)
    curve = kaplan_meier(days, kind == 1)
    limits = reference.confidence_interval_.loc[curve.days].to_numpy().T

    assert curve.estimate == pytest.approx(reference.survival_function_.loc[curve.days].to_numpy()[:, 0], abs=1e-12)
    assert np.array([curve.low, curve.high]) == pytest.approx(limits, abs=1e-8)


@pytest.mark.parametrize("of", [1, 2])
def test_cumulative_incidence_and_its_error_equal_those_of_the_reference_library(of: int) -> None:
    days, kind = competing()
    reference = AalenJohansenFitter(calculate_variance=True).fit(days, kind, event_of_interest=of)
    curve = cumulative_incidence(days, kind, of)
    at = reference.cumulative_density_.index <= 365

    assert value_at(curve, 365)[0] == pytest.approx(float(reference.cumulative_density_[at].iloc[-1, 0]), abs=1e-12)
    assert value_at(curve, 365)[1] ** 2 == pytest.approx(float(reference.variance_[at].iloc[-1]), rel=1e-9)


def test_incidences_and_the_share_without_any_add_up_to_one() -> None:
    days, kind = competing()
    parts = [value_at(cumulative_incidence(days, kind, of), 365)[0] for of in (1, 2)]

    assert sum(parts) + value_at(kaplan_meier(days, kind > 0), 365)[0] == pytest.approx(1.0, abs=1e-12)


def test_weights_of_two_equal_every_job_twice_in_estimate() -> None:
    days, kind = competing(n=200)
    twice = cumulative_incidence(np.repeat(days, 2), np.repeat(kind, 2), 1)
    weighted = cumulative_incidence(days, kind, 1, weight=np.full(200, 2.0))

    assert weighted.estimate == pytest.approx(twice.estimate)
    assert weighted.at_risk.max() == 200


def test_numbers_at_risk_by_hand() -> None:
    assert at_risk_on(np.array([10.0, 60.0, 61.0, 365.0]), np.array([0, 60, 61, 365])).tolist() == [4, 3, 2, 1]


def test_pseudo_outcomes_are_what_happened_where_everyone_was_followed() -> None:
    days, event = np.array([10.0, 400, 20, 366]), np.array([True, False, True, False])

    assert pseudo_outcomes(days, event, 365.0) == pytest.approx([1, 0, 1, 0], abs=1e-12)


def test_pseudo_outcomes_equal_the_leave_one_out_differences() -> None:
    """Andersen, Klein & Rosthoj 2003: n·F − (n − 1)·F without the job; the closed form differs by order 1 / n."""
    days, kind = competing(n=300)
    event, every = kind == 1, np.arange(300)

    def risk(rows: np.ndarray) -> float:
        return 1 - value_at(kaplan_meier(days[rows], event[rows]), 365)[0]

    left_out = [300 * risk(every) - 299 * risk(np.delete(every, at)) for at in range(40)]
    found = pseudo_outcomes(days, event, 365.0)
    assert found[:40] == pytest.approx(left_out, abs=0.01)
    assert found.mean() == pytest.approx(risk(every), abs=1e-12)


def test_a_practice_taken_up_lately_does_not_look_safe() -> None:
    """The same hazard in both groups, one followed for half the time: the risks must agree within their error."""
    rng = np.random.default_rng(8)
    lately = rng.random(8000) < 0.5
    event_day, end = rng.exponential(1500, 8000), np.where(lately, rng.uniform(50, 500, 8000), 2000.0)
    days, event = np.minimum(event_day, end), event_day <= end
    codes = strata(lately, np.zeros(8000, dtype=bool), days, event, 365)
    found = outcomes_by_stratum(codes, days, event, 365)

    error = np.hypot(*(found[lately == way].std() / np.sqrt((lately == way).sum()) for way in (True, False)))
    assert abs(found[lately].mean() - found[~lately].mean()) < 3 * error
    assert event[lately].mean() < 0.8 * found[lately].mean()  # the plain share would have looked safe


def test_small_strata_are_joined() -> None:
    few = np.arange(400) < FEWEST_IN_STRATUM // 2
    days, event = np.full(400, 400.0), np.zeros(400, dtype=bool)

    assert np.unique(strata(np.zeros(400, dtype=bool), few, days, event, 365)).size == 1


def test_callbacks_that_fall_over_the_years_do_not_bias_the_risk_of_those_watched_briefly() -> None:
    """Jobs visited over four years, each risk half that of a year before; the last year's are watched in part only."""
    rng = np.random.default_rng(11)
    visit = rng.uniform(0.0, 1460.0, 20_000)
    hazard = 0.0012 * 0.5 ** (visit / 365.0)
    event_day, end = rng.exponential(1 / hazard), 1500.0 - visit
    days, event = np.minimum(event_day, end), event_day <= end
    nobody = np.zeros(20_000, dtype=bool)
    late = visit > 1095.0
    truth = float((1 - np.exp(-365 * hazard))[late].mean())

    plain, by_date = (
        outcomes_by_stratum(strata(nobody, nobody, days, event, 365, by), days, event, 365) for by in (None, visit)
    )

    # the late jobs' own outcomes: without the date those not watched to the end carry the others' risk
    error = float(by_date[late].std() / np.sqrt(late.sum()))
    assert abs(by_date[late].mean() - truth) < 3 * error
    assert plain[late].mean() > truth + 3 * error
