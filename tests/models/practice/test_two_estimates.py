"""The first year beside all follow-up: which one stands, both ends of ranges, expected against counted callbacks."""

from __future__ import annotations

import numpy as np
import pytest

from models.practice.cohort.audited_jobs import Records
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects import doubly_robust
from models.practice.effects.all_follow_up import LEAST_P_SAME, Watched, expected_callbacks, is_told
from models.practice.effects.cost_effectiveness import Worth, counted
from models.practice.effects.doubly_robust import adjust, compare, standard_error
from models.practice.effects.effect import _risk_by
from models.practice.effects.estimators import Estimate
from models.practice.nuisance.information_matrix import Design
from models.practice.results.audit_result import Audit

FILTER = BY_NAME["filter_fitted:on_return|none"]


def test_all_follow_up_stands_only_with_the_smaller_error_and_where_both_say_the_same() -> None:
    assert is_told(0.02, 0.01, LEAST_P_SAME)
    assert not is_told(0.02, 0.02, 1.0)
    assert not is_told(0.02, 0.03, 1.0)
    assert not is_told(0.02, 0.01, np.nextafter(LEAST_P_SAME, 0))


def test_the_error_that_decides_is_that_by_one_year(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[float, float, float]] = []
    monkeypatch.setattr(doubly_robust, "is_told", lambda *given: bool(asked.append(given)))

    adjusted = adjust(records, compare(records, FILTER))

    assert adjusted.wide is not None
    assert adjusted.year is not None
    unit = records.unit[adjusted.compared.rows][adjusted.kept]
    year, one, two = (standard_error(each.of_difference, unit) for each in (adjusted.year, *adjusted.wide.by))
    assert asked == [(year, one, adjusted.wide.p_same)]
    assert one != two  # otherwise the test could not fail


def test_both_ends_of_every_range_lie_as_far_from_the_middle(audited: Audit) -> None:
    ranges = [
        (each.shrunk_low, each.shrunk_difference, each.shrunk_high)
        for each in audited.practices
        if each.shrunk_difference is not None
    ]
    ranges += [
        (by.low, by.difference, by.high)
        for each in audited.practices
        for by in ((each.first_year,) if each.first_year else ())
        + (each.all_follow_up.by if each.all_follow_up else ())
    ]
    assert len(ranges) > 10
    for low, middle, high in ranges:
        assert low is not None
        assert high is not None
        assert low < middle < high
        assert high - middle == pytest.approx(middle - low)


def test_expected_callbacks_add_up_to_those_counted() -> None:
    """Of a hazard in pieces the expected callbacks of each are those counted (its likelihood's first derivative).
    One way has four times the callbacks of the other: each job must be given its own way's factor."""
    rng = np.random.default_rng(8)
    a = np.arange(2000) % 2 == 0
    event_day, end = rng.exponential(np.where(a, 1000.0, 4000.0)), rng.uniform(200.0, 1500.0, 2000)
    days, is_event = np.minimum(event_day, end), event_day <= end
    design = Design(rng.standard_normal((2000, 1)), np.zeros(1, dtype=np.int64))
    jobs = Watched(days, is_event, a, np.full(2000, 0.5), np.arange(2000) % 5, design)

    found = expected_callbacks(jobs)

    own = np.where(a, found.factor[0], found.factor[1]) * found.base.cumulative(days)
    assert own.sum() == pytest.approx(is_event.sum())
    assert own[a].sum() == pytest.approx(is_event[a].sum(), rel=0.1)
    assert own[~a].sum() == pytest.approx(is_event[~a].sum(), rel=0.1)


def test_a_risk_that_augmenting_pushes_out_of_its_range_is_shown_at_its_end(records: Records) -> None:
    adjusted = adjust(records, compare(records, FILTER))
    assert adjusted.kept is not None
    influence = np.zeros((int(adjusted.kept.sum()), 2))

    found = _risk_by(records, adjusted, Estimate(1.2, -0.1, influence), 365)

    assert (found.risk_with, found.risk_without) == (1.0, 0.0)
    assert found.difference == pytest.approx(1.3)  # the difference stays what was estimated


def test_an_interval_that_owes_nothing_to_minutes_is_as_wide_as_its_effect() -> None:
    """100 a callback, 95 % ends at ±1.96 · 0.05: the net's ends lie 9.8 from its middle, before and after."""
    half = 1.959964 * 0.05
    worth = Worth(
        10.0, 10 - 100 * half, 10 + 100 * half, 2.0, 100.0, None, 8.0, 8 - 100 * half, 8 + 100 * half, "GBP", ""
    )

    found = counted(worth, -0.1, 0.05)

    assert (found.net_low, found.net_high) == pytest.approx((8 - 9.79982, 8 + 9.79982), abs=1e-4)
