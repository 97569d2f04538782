"""The ladder of calibration scores: equal to another implementation, never crossing, honest when thin."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.quote.base.conformal import PERCENTS, ConformalDistribution, centred

FLOATS = st.floats(-50, 50, allow_nan=False)


@pytest.mark.parametrize("n", [99, 137, 400])
def test_quantiles_equal_those_of_crepes(n: int) -> None:
    # crepes 0.9, ConformalPredictiveSystem: normalised residuals, interpolation outward from the median
    from crepes import ConformalPredictiveSystem

    rng = np.random.default_rng(n)
    errors, sizes = rng.standard_t(4, n), rng.uniform(0.5, 2, n)
    centre, scale = rng.normal(size=20), rng.uniform(0.5, 2, 20)
    peer = ConformalPredictiveSystem().fit(errors, sizes)
    low, high = [1, 5, 10, 25], [75, 90, 95, 99]
    expected = peer.predict_percentiles(centre, scale, lower_percentiles=low, higher_percentiles=high)

    levels = np.array([*low, *high]) / 100
    scores = ConformalDistribution.of(errors / sizes, 1.0).quantiles(levels)

    assert centre[:, None] + scale[:, None] * scores == pytest.approx(expected, abs=1e-12)


@given(scores=st.lists(FLOATS, min_size=1, max_size=80), tail=st.floats(0, 5))
def test_quantiles_never_cross(scores: list[float], tail: float) -> None:
    found = ConformalDistribution.of(scores, tail).quantiles(PERCENTS)

    assert np.all(np.diff(found) >= 0)


@given(scores=st.lists(FLOATS, min_size=1, max_size=60))
def test_scores_less_their_centre_have_their_median_at_nought(scores: list[float]) -> None:
    shift = centred(scores)

    assert ConformalDistribution.of(np.array(scores) - shift, 1.0).quantiles([0.5])[0] == 0.0


@pytest.mark.parametrize(("level", "needed"), [(0.2, 4), (0.1, 9), (0.05, 19)])
def test_smallest_number_of_scores_for_a_level(level: float, needed: int) -> None:
    # Romano, Patterson and Candès (2019): n = 4, 9, 19 for 0.2, 0.1, 0.05 (exact)
    assert ConformalDistribution.of(np.arange(needed), 0.0).reaches(level)
    assert not ConformalDistribution.of(np.arange(needed - 1), 0.0).reaches(level)


def test_beyond_the_reach_of_few_scores_the_stated_tail_stands_if_it_is_wider() -> None:
    narrow, wide = ConformalDistribution.of([-0.1, 0.0, 0.1], 1.0), ConformalDistribution.of([-9.0, 0.0, 9.0], 1.0)

    assert narrow.quantiles([0.05, 0.95]) == pytest.approx([-1.6449, 1.6449], abs=1e-4)
    assert wide.quantiles([0.05, 0.95]) == pytest.approx([-9.0, 9.0])


def test_pit_spreads_ties_and_gives_the_floor_all_mass_below() -> None:
    ladder = ConformalDistribution.of([1.0, 2.0, 3.0], 1.0)

    middle = ladder.pit([2.0, 2.0], [0.0, 1.0], at_floor=[False, False])
    floor = ladder.pit([2.0, 2.0], [0.0, 1.0], at_floor=[True, True])

    assert middle.tolist() == [0.25, 0.75]
    assert floor.tolist() == [0.0, 0.75]


@pytest.mark.parametrize("scores", [[], [np.nan], [np.inf]])
def test_a_ladder_needs_finite_scores(scores: list[float]) -> None:
    with pytest.raises(ValueError, match="at least one score"):
        ConformalDistribution.of(scores, 1.0)


def test_a_share_at_nought_lies_below_every_score_by_hand() -> None:
    # 3 scores share 0.6 of the distribution: level 0.7 is theirs at (0.7 − 0.4) / 0.6 = 0.5, the middle one
    ladder = ConformalDistribution(np.array([1.0, 2.0, 3.0]), 0.0, zero_mass=0.4)

    assert ladder.quantiles([0.1, 0.4, 0.7, 0.55]).tolist() == [-np.inf, -np.inf, 2.0, 1.0]
    # 2.0 is the middle of its three: 0.4 + 0.6 · 0.5
    assert ladder.share_below([2.0])[0] == pytest.approx(0.4 + 0.6 * 0.5)
    assert ladder.pit([0.0, 2.0], [0.5, 0.5], at_floor=[True, False]) == pytest.approx([0.2, 0.7])


def test_pit_with_a_share_at_nought_is_even() -> None:
    rng = np.random.default_rng(4)
    found = []
    for _ in range(300):
        values = np.where(rng.random(80) < 0.4, 0.0, rng.gamma(2, size=80))
        known, new = values[:60], values[60:]
        ladder = ConformalDistribution(np.sort(known[known > 0]), 1.0, zero_mass=(float((known == 0).sum()) + 0.5) / 61)
        found.append(ladder.pit(new, rng.uniform(size=20), at_floor=new == 0))

    shares = np.histogram(np.concatenate(found), bins=10, range=(0, 1))[0] / 6000
    assert shares == pytest.approx(np.full(10, 0.1), abs=0.02)  # four standard errors, and 300 ladders of 60


def test_the_levels_kept_for_drawing_are_the_ninety_nine_percents() -> None:
    assert PERCENTS.tolist() == [number / 100 for number in range(1, 100)]
