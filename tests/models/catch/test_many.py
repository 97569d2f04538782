"""Many curves at once give what one at a time gives."""

from __future__ import annotations

import numpy as np
import pytest

from models.catch.curve import fit_many, fit_saturating_curve
from models.refusals import Refusal


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
