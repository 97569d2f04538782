"""One saturating curve: planted parameters, laws it must obey, intervals, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from models.catch.curve_fit.curve import catch_curve, curve_points, fit_saturating_curve, x_at_share
from models.refusals import FitRejected, NotEnoughData

MINUTES = np.arange(1.0, 13.0) * 20.0


def noisy(tau: float, sd: float, seed: int = 0, asymptote: float = 4.0) -> np.ndarray:
    return catch_curve(MINUTES, asymptote, tau) + np.random.default_rng(seed).normal(0.0, sd, MINUTES.size)


@given(asymptote=st.floats(0.01, 100.0), share=st.floats(0.2, 0.99999))
@settings(max_examples=40, deadline=None)
def test_a_curve_without_noise_comes_back_exactly(asymptote: float, share: float) -> None:
    tau = -MINUTES[-1] / np.log1p(-share)

    fit = fit_saturating_curve(MINUTES, catch_curve(MINUTES, asymptote, tau))

    assert fit.asymptote == pytest.approx(asymptote, rel=1e-8)
    assert fit.tau == pytest.approx(tau, rel=1e-8)
    assert fit.share_reached == pytest.approx(share, rel=1e-8)


@pytest.mark.parametrize("tau", [25.0, 60.0, 120.0])
def test_planted_parameters_come_back_within_three_standard_errors(tau: float) -> None:
    fit = fit_saturating_curve(MINUTES, noisy(tau, sd=0.05))

    assert abs(fit.asymptote - 4.0) < 3.0 * fit.asymptote_se
    assert abs(fit.rate - 1.0 / tau) < 3.0 * fit.rate_se


def test_profile_intervals_cover_the_planted_asymptote_and_rate_as_often_as_they_say() -> None:
    runs, level = 400, 0.90
    hits = np.zeros(2, dtype=int)

    for seed in range(runs):
        fit = fit_saturating_curve(MINUTES, noisy(90.0, sd=0.15, seed=seed), level=level)
        hits += [fit.asymptote_low <= 4.0 <= fit.asymptote_high, fit.tau_low <= 90.0 <= fit.tau_high]

    # a true 90 % interval leaves these bounds once in a thousand runs of the test
    low, high = binom.ppf([0.0005, 0.9995], runs, level)
    assert (hits >= low).all()
    assert (hits <= high).all()


def test_doubling_every_mass_doubles_the_asymptote_and_leaves_tau() -> None:
    y = noisy(80.0, sd=0.1)

    once, twice = fit_saturating_curve(MINUTES, y), fit_saturating_curve(MINUTES, 2.0 * y)

    assert twice.asymptote == pytest.approx(2.0 * once.asymptote, rel=1e-12)
    assert twice.asymptote_high == pytest.approx(2.0 * once.asymptote_high, rel=1e-9)
    assert twice.tau == pytest.approx(once.tau, rel=1e-12)


def test_the_order_of_rows_does_not_matter() -> None:
    y = noisy(80.0, sd=0.1)
    shuffled = np.random.default_rng(1).permutation(MINUTES.size)

    assert fit_saturating_curve(MINUTES[shuffled], y[shuffled]) == fit_saturating_curve(MINUTES, y)


def test_more_noise_and_a_higher_level_make_wider_intervals() -> None:
    quiet, loud = (fit_saturating_curve(MINUTES, noisy(80.0, sd)) for sd in (0.02, 0.1))
    surer = fit_saturating_curve(MINUTES, noisy(80.0, 0.02), level=0.99)

    assert loud.asymptote_high - loud.asymptote_low > 3 * (quiet.asymptote_high - quiet.asymptote_low)
    assert surer.asymptote_high > quiet.asymptote_high > quiet.asymptote > quiet.asymptote_low
    assert surer.tau_low < quiet.tau_low < quiet.tau < quiet.tau_high < surer.tau_high


def test_an_upper_end_that_the_points_do_not_bound_is_told_as_open() -> None:
    fit = fit_saturating_curve([10, 20, 30, 40, 50], [1.0, 2.1, 2.9, 3.9, 4.7])

    assert fit.asymptote_high == np.inf
    assert fit.tau_high == np.inf
    assert fit.rate_low == 0.0
    assert fit.findings[0].code == "under_half_of_asymptote"
    assert fit.findings[0].facts["asymptote_high"] is None


def test_a_point_at_zero_minutes_changes_nothing_when_nothing_was_caught_there() -> None:
    y = noisy(80.0, sd=0.1)

    with_zero = fit_saturating_curve([0.0, *MINUTES], [0.0, *y])

    assert with_zero.asymptote == pytest.approx(fit_saturating_curve(MINUTES, y).asymptote, rel=1e-12)
    assert with_zero.points == MINUTES.size + 1


def test_the_curve_drawn_reaches_the_share_asked_for() -> None:
    fit = fit_saturating_curve(MINUTES, noisy(80.0, sd=0.1))

    assert curve_points(fit, [0.0, x_at_share(fit, 0.95)]) == pytest.approx([0.0, 0.95 * fit.asymptote])


@pytest.mark.parametrize("share", [0.0, 1.0, float("nan")])
def test_a_share_that_is_never_reached_is_refused(share: float) -> None:
    fit = fit_saturating_curve(MINUTES, noisy(80.0, sd=0.1))

    with pytest.raises(ValueError, match="share must lie between 0 and 1"):
        x_at_share(fit, share)


@pytest.mark.parametrize(("x", "found"), [([], 0), ([0, 5, 5, 9], 2), ([1, 2, 3], 3)])
def test_under_four_different_times_it_says_how_many_it_needs(x: list[float], found: int) -> None:
    with pytest.raises(NotEnoughData, match=f"at least 4 weighings at different times; there are {found}"):
        fit_saturating_curve(x, [1.0] * len(x))


@pytest.mark.parametrize(
    ("y", "sentence"),
    [
        ([1, 2, 4, 8, 16], "keep growing"),
        ([1, 2, 3, 4, 5], "keep growing"),
        ([3, 3, 3, 3, 3], "by the first weighing"),
        ([0, 0, 0, 0, 0], "Nothing has been caught"),
        ([-1, -2, -3, -3, -3], "Nothing has been caught"),
    ],
)
def test_points_that_do_not_level_off_are_refused_in_a_sentence(y: list[float], sentence: str) -> None:
    with pytest.raises(FitRejected, match=sentence):
        fit_saturating_curve([10, 20, 30, 40, 50], y)


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([1, 2], [1], r"x has shape \(2,\), y has shape \(1,\)"),
        ([1, -2], [1, 2], r"x\[1\] is -2"),
        ([1, 2], [1, np.nan], r"y\[1\] is nan"),
        ([np.inf, 2], [1, 2], r"x\[0\] is inf"),
    ],
)
def test_input_that_cannot_be_a_curve_is_named_with_its_facts(x: list, y: list, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        fit_saturating_curve(x, y)


def test_a_level_or_start_out_of_range_is_named() -> None:
    with pytest.raises(ValueError, match="level must lie between 0 and 1; it is 95"):
        fit_saturating_curve(MINUTES, MINUTES, level=95)
    with pytest.raises(ValueError, match="start must be two finite numbers above 0"):
        fit_saturating_curve(MINUTES, MINUTES, start=(0.0, 1.0))
