"""Many curves at once give what one at a time gives."""

from __future__ import annotations

import numpy as np
import pytest

from models.catch.curve_fit.curve import catch_curve, fit_many, fit_saturating_curve
from models.refusals import Refusal
from tests.benchmarks import bench_curves


def ragged_curves(curves: int = 60) -> list[tuple[np.ndarray, np.ndarray]]:
    """Curves of 2 to 14 points on time scales from seconds to weeks; some too short or too straight to fit."""
    rng = np.random.default_rng(8)
    made = []
    for _ in range(curves):
        x = np.cumsum(rng.uniform(0.3, 2.0, rng.integers(2, 15))) * 10.0 ** rng.uniform(-1, 4)
        y = 5.0 * -np.expm1(-x / (x[-1] * rng.uniform(0.1, 3.0))) + rng.normal(0.0, 0.2, x.size)
        made.append((x, y))
    return made


def test_every_curve_equals_the_single_fit_to_the_last_digits() -> None:
    curves = ragged_curves()
    fits = fit_many(
        np.concatenate([x for x, _ in curves]),
        np.concatenate([y for _, y in curves]),
        np.repeat(np.arange(len(curves)), [x.size for x, _ in curves]),
    )

    for number, (x, y) in enumerate(curves):
        if fits.refused[number]:
            with pytest.raises(Refusal) as refused:
                fit_saturating_curve(x, y)
            assert str(refused.value) == fits.refused[number]
            assert np.isnan(fits.asymptote[number])
            continue
        one = fit_saturating_curve(x, y)
        for name in ("asymptote", "tau", "asymptote_se", "rate_se", "residual_sd", "share_reached"):
            assert getattr(fits, name)[number] == pytest.approx(getattr(one, name), rel=1e-10)

    assert 5 < np.sum(fits.refused != "") < 55


def test_no_point_gives_no_curve() -> None:
    fits = fit_many([], [], [])

    assert fits.group.size == fits.asymptote.size == fits.refused.size == 0


def test_more_curves_than_fit_one_batch_come_back_in_order_of_their_label() -> None:
    tau = np.linspace(20.0, 100.0, 4500)
    x = np.tile(np.arange(1.0, 7.0) * 20.0, (tau.size, 1))
    group = np.repeat(np.arange(tau.size)[::-1], 6)

    fits = fit_many(x.ravel(), (-np.expm1(-x / tau[:, None])).ravel(), group)

    assert fits.tau == pytest.approx(tau[::-1], rel=1e-8)


def test_a_group_of_another_length_is_named() -> None:
    with pytest.raises(ValueError, match=r"it has \(1,\), x \(2,\)"):
        fit_many([1, 2], [1, 2], ["a"])


def test_curves_in_order_and_rows_thrown_together_give_the_same() -> None:
    curves = ragged_curves(40)
    x, y = (np.concatenate([curve[which] for curve in curves]) for which in (0, 1))
    group = np.repeat(np.arange(len(curves)), [curve[0].size for curve in curves])
    mixed = np.random.default_rng(4).permutation(x.size)

    ordered, thrown = fit_many(x, y, group), fit_many(x[mixed], y[mixed], group[mixed])

    assert list(ordered.refused) == list(thrown.refused)
    np.testing.assert_array_equal(ordered.asymptote, thrown.asymptote)


def test_a_long_curve_beside_short_ones_changes_none_of_them() -> None:
    short = [(np.arange(1.0, 6.0) * 10.0, np.array([2.0, 3.1, 3.7, 3.9, 4.2]))] * 30
    x = np.linspace(5.0, 400.0, 5000)
    curves = [*short, (x, catch_curve(x, 4.0, 60.0))]

    fits = fit_many(
        np.concatenate([x for x, _ in curves]),
        np.concatenate([y for _, y in curves]),
        np.repeat(np.arange(len(curves)), [x.size for x, _ in curves]),
    )

    alone = fit_saturating_curve(*short[0])
    assert fits.asymptote[:30] == pytest.approx(np.full(30, alone.asymptote), rel=1e-12)
    assert fits.points[30] == 5000
    assert (fits.asymptote[30], fits.tau[30]) == pytest.approx((4.0, 60.0), rel=1e-10)


def test_no_tau_of_a_fine_scan_leaves_a_smaller_sum_of_squares_even_on_hostile_curves() -> None:
    """Half of all points noise, gaps of hours: curves whose sum of squares has more than one valley are among them."""
    table = bench_curves.hostile(400)

    fits = fit_many(*table)

    fitted = fits.refused == ""
    assert fitted.sum() > 200
    best = bench_curves.scanned(table, steps=1500)
    assert (fits.residual_sum_of_squares[fitted] <= best[fitted] * (1 + 1e-9)).all()


# Of 16,000 curves as those above, five on which the deeper valley is not where the grid is highest (or the grid is
# highest at its end, where there is nothing to fit); here three of them, to three decimals: minutes, kilograms.
TWO_VALLEYS = [
    (
        [
            0.381,
            10.632,
            13.076,
            15.985,
            20.095,
            20.39,
            25.516,
            27.708,
            69.019,
            70.105,
            94.509,
            98.469,
            112.858,
            197.149,
        ],
        [0.406, 0.505, 1.013, 0.609, 1.14, 1.153, 0.908, 1.184, 1.018, 1.167, 0.914, 1.088, 0.722, 0.916],
    ),
    (
        [1.101, 1.243, 2.09, 6.483, 11.704, 32.017, 63.057, 75.885, 253.074],
        [0.583, -0.041, 0.099, 0.004, 1.198, 0.068, 0.701, 1.102, 1.155],
    ),
    ([2.28, 2.557, 7.903, 13.47, 13.487, 62.331, 248.6], [1.436, 0.703, 1.328, 0.431, 0.752, 1.655, 1.786]),
]


@pytest.mark.parametrize(("x", "y"), TWO_VALLEYS)
def test_a_curve_with_two_valleys_ends_in_the_deeper_one(x: list[float], y: list[float]) -> None:
    fit = fit_saturating_curve(x, y)

    minutes, kg = np.array(x), np.array(y)
    tau = np.geomspace(0.02, 1e4, 40_000)
    shape = -np.expm1(-minutes / tau[:, None])
    left = ((kg - (shape @ kg / (shape * shape).sum(axis=1))[:, None] * shape) ** 2).sum(axis=1)
    assert fit.tau == pytest.approx(tau[np.argmin(left)], rel=1e-3)
