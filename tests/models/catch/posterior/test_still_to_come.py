"""Kilograms still to come: mean and variance by hand; running sums and increments of two curves at once."""

from __future__ import annotations

import numpy as np
import pytest

from models.catch.posterior.cumulative_posterior import Pace, prefixes
from models.catch.posterior.posterior import Draws, Increments, Prior, grid_posterior, increments, still_to_come

DRAWS = 200_000


def draws_of(m: tuple[float, ...], tau: tuple[float, ...], cv: tuple[float, ...]) -> Draws:
    """Curves whose pool, pace and noise are known, so that only what still comes is drawn."""
    return Draws(*(np.tile(np.array(each)[:, None], (1, DRAWS)) for each in (m, tau, cv)))


def test_mean_and_variance_of_what_still_comes_are_those_worked_by_hand() -> None:
    """Curve 1: M 4, tau 60, weighed at 30, 60, 90, cv 0.5: left 4·e^(−1.5) = 0.8925; an interval of 30 leaves
    q = e^(−0.5) = 0.6065, so the relative variance is 0.25·0.3935/1.6065 = 0.06123.
    Curve 2: M 1, tau 20, weighed at 10 and 20, cv 0.3: left e^(−1) = 0.3679; q = 0.6065, 0.09·0.24492 = 0.02204."""
    data = increments(
        [(np.array([30.0, 60.0, 90.0]), np.array([1.5, 2.5, 3.1])), (np.array([10.0, 20.0]), np.array([0.4, 0.6]))]
    )

    found = still_to_come(draws_of((4.0, 1.0), (60.0, 20.0), (0.5, 0.3)), data, np.random.default_rng(1))

    # standard error of a mean 0.247 / √200,000 = 0.06 %; of a variance about √(2 / 200,000) = 0.3 %, more by the tail
    assert found.mean(axis=1) == pytest.approx([0.89252, 0.36788], rel=0.003)
    assert found.var(axis=1) / found.mean(axis=1) ** 2 == pytest.approx([0.061230, 0.022043], rel=0.03)


def test_weighings_a_second_apart_count_as_a_minute_and_no_scatter_stays_a_number() -> None:
    data = Increments(np.zeros(1), np.array([0.01]), np.ones(1), np.zeros(1, dtype=int), np.ones(1, dtype=int))

    found = still_to_come(draws_of((2.0,), (1e9,), (0.15,)), data, np.random.default_rng(2))

    # q = 1 − 1e−9: nothing but the floor of 1e−6 of variance is left
    assert found.mean() == pytest.approx(2.0, rel=1e-4)
    assert found.std() == pytest.approx(2.0e-3, rel=0.02)


def test_increments_of_two_curves_begin_anew_with_each() -> None:
    found = increments(
        [(np.array([10.0, 30.0]), np.array([1.0, 1.5])), (np.array([5.0, 6.0, 9.0]), np.array([2.0, 2.0, 4.0]))]
    )

    assert found.before.tolist() == [0, 10, 0, 5, 6]
    assert found.after.tolist() == [10, 30, 5, 6, 9]
    assert found.kg.tolist() == [1.0, 0.5, 2.0, 0.0, 2.0]
    assert (found.first.tolist(), found.size.tolist()) == ([0, 2], [2, 3])
    assert (found.caught.tolist(), found.last.tolist()) == ([1.5, 4.0], [30.0, 9.0])


def test_with_much_belief_in_its_pace_a_curve_is_read_off_the_share_that_has_come() -> None:
    """Pace known as 60 minutes: after 60 minutes 1 − 1/e has come. 2 kg caught: about 2 / 0.632 = 3.16 in all."""
    data = increments([(np.array([20.0, 40.0, 60.0]), 2 * np.array([0.4485, 0.7698, 1.0]))])

    found = grid_posterior(data, Prior(3.0, 1.0, 60.0, 0.01))

    mean = float((found.weight.sum(axis=(1, 2)) * found.m).sum())
    assert mean == pytest.approx(2 / (1 - np.exp(-1)), rel=0.03)
    assert found.weight.sum() == pytest.approx(1.0)


def test_an_emitter_takes_its_belief_of_the_pace_from_the_others_of_its_house() -> None:
    """One weighing says nothing of a pace; two neighbours that gave all in 5 minutes say a short one."""
    quick = (np.arange(1.0, 7.0) * 5, np.array([0.632, 0.865, 0.950, 0.982, 0.993, 0.998]))
    one = (np.array([10.0]), np.array([0.3]))
    prior = Prior(0.25, 1.2, 12.0, 0.8)
    data = increments([one, quick, quick])

    def pace(*, share_tau: bool) -> float:
        found = grid_posterior(data, prior, share_tau=share_tau)
        return float(np.exp((found.weight[0].sum(axis=(0, 2)) * np.log(found.tau)).sum()))

    assert pace(share_tau=True) < 0.75 * pace(share_tau=False)
    alone = increments([one])
    assert grid_posterior(alone, prior, share_tau=True).weight == pytest.approx(grid_posterior(alone, prior).weight)


def test_running_state_of_two_curves_is_that_of_each_alone() -> None:
    """Curves of 3 and 2 weighings end to end; with a pace that is all but known, to come is e^(−s/tau) of it."""
    pace = Pace(tau_min=30.0, spread=1e-9, lump_kg=0.01)
    before, after = np.array([0.0, 10, 20, 0, 30]), np.array([10.0, 20, 45, 30, 40])
    kg = np.array([0.5, 0.3, 0.2, 1.0, 0.1])

    both = prefixes(before, after, kg, np.array([0, 3]), np.array([3, 2]), pace)

    assert both.caught == pytest.approx([0.5, 0.8, 1.0, 1.0, 1.1])
    # of 1 − e^(−s/30) caught, e^(−s/30) is to come
    assert both.to_come == pytest.approx(both.caught / np.expm1(after / 30.0))
    assert both.log_tau == pytest.approx(np.full(5, np.log(30.0)))
    assert both.log_tau_square == pytest.approx(np.full(5, np.log(30.0) ** 2))


def test_even_catches_speak_for_a_slow_pace_and_falling_ones_for_a_quick_one() -> None:
    pace = Pace(tau_min=30.0, spread=0.6, lump_kg=0.02)
    before, after = np.tile([0.0, 10.0, 20.0], 2), np.tile([10.0, 20.0, 30.0], 2)

    even, falls = np.split(
        prefixes(
            before, after, np.array([0.3, 0.3, 0.3, 0.6, 0.2, 0.1]), np.array([0, 3]), np.array([3, 3]), pace
        ).log_tau,
        2,
    )

    assert np.exp(even[-1]) > 50.0 > 20.0 > np.exp(falls[-1])
    # after a single catch nothing is told of the pace that was not believed before
    assert (even[0], falls[0]) == pytest.approx((np.log(30.0), np.log(30.0)), abs=1e-9)


def test_a_first_weighing_at_the_very_start_leaves_every_figure_finite() -> None:
    """A clock rounded to minutes may put it at minute 0: it counts as a thousandth of one."""
    at = [
        prefixes(np.zeros(1), np.array([minute]), np.ones(1), np.array([0]), np.array([1]), Pace(30.0, 0.6, 0.02))
        for minute in (0.0, 1e-3)
    ]

    assert np.isfinite(at[0].to_come).all()
    assert at[0].to_come == pytest.approx(at[1].to_come)
