"""The curve through the door is the curve of pages and commands, in kilograms and minutes."""

from __future__ import annotations

import numpy as np
import pytest

from models.refusals import FitRejected, NotEnoughData
from sludgebook import CatchCurve, catch_curves

MINUTES = np.array([10.0, 20.0, 35.0, 50.0, 80.0])


def planted(asymptote_kg: float, tau_minutes: float) -> np.ndarray:
    return asymptote_kg * (1 - np.exp(-MINUTES / tau_minutes))


def test_a_planted_curve_is_found_and_what_is_left_is_its_exponential() -> None:
    curve = CatchCurve().fit(MINUTES[::-1], planted(3.0, 40.0)[::-1])

    assert (curve.asymptote_kg_, curve.tau_minutes_) == pytest.approx((3.0, 40.0))
    assert curve.predict([0.0, 40.0]) == pytest.approx([0.0, 3.0 * 0.6321206])
    assert curve.left_kg() == pytest.approx(3.0 * np.exp(-80.0 / 40.0))


def test_a_narrower_level_gives_narrower_intervals_around_the_estimate() -> None:
    kilograms = planted(3.0, 40.0) + np.array([0.05, -0.04, 0.03, -0.05, 0.02])
    wide, narrow = (CatchCurve(level=level).fit(MINUTES, kilograms) for level in (0.95, 0.5))

    for name in ("asymptote_interval_kg_", "tau_interval_minutes_"):
        (low, high), (inner_low, inner_high) = getattr(wide, name), getattr(narrow, name)
        assert low < inner_low < inner_high < high


def test_too_few_weighings_or_none_that_bend_are_refused_in_words() -> None:
    with pytest.raises(NotEnoughData, match="at least 4 weighings at different times; there are 3"):
        CatchCurve().fit([1, 2, 3], [1, 2, 3])
    with pytest.raises(FitRejected, match="does not bend yet"):
        CatchCurve().fit([1, 2, 3, 4], [1, 2, 3, 4])


def test_many_curves_at_once_are_those_fitted_one_by_one() -> None:
    curves = {"b": planted(3.0, 40.0), "a": planted(0.5, 15.0), "c": MINUTES}
    rows = catch_curves(np.tile(MINUTES, 3), np.concatenate(list(curves.values())), np.repeat(list(curves), 5))

    assert rows["job"].tolist() == ["a", "b", "c"]
    for at, job in enumerate("ab"):
        one = CatchCurve().fit(MINUTES, curves[job])
        found = rows.loc[at, ["asymptote_kg", "asymptote_se_kg", "tau_minutes", "left_kg"]].tolist()
        assert found == pytest.approx(
            [one.asymptote_kg_, one.result_.asymptote_se, one.tau_minutes_, one.left_kg()], abs=1e-6
        )
    assert "does not bend yet" in rows.loc[2, "refused"]
    assert np.isnan(rows.loc[2, "asymptote_kg"])
