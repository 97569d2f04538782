"""The band of similar jobs against a plain loop."""

from __future__ import annotations

import numpy as np
import pytest

from models.catch.band import band_of_similar
from models.refusals import NotEnoughData


def test_the_band_equals_quantiles_of_curves_interpolated_one_by_one() -> None:
    rng = np.random.default_rng(6)
    size = rng.integers(1, 12, 40)
    minutes = [np.sort(rng.uniform(1.0, 400.0, n)) for n in size]
    kg = [np.cumsum(rng.exponential(0.3, n)) for n in size]
    flat = [np.concatenate(part) for part in (minutes, kg)]
    shuffled = rng.permutation(size.sum())

    band = band_of_similar(flat[0][shuffled], flat[1][shuffled], np.repeat(np.arange(40), size)[shuffled])

    each = [np.interp(band.minutes, [0.0, *m], [0.0, *y]) for m, y in zip(minutes, kg, strict=True)]
    for name, level in (("p10", 0.1), ("p25", 0.25), ("p50", 0.5), ("p75", 0.75), ("p90", 0.9)):
        assert getattr(band, name) == pytest.approx(np.quantile(each, level, axis=0), rel=1e-9, abs=1e-12)
    assert band.jobs == 40


def test_the_band_starts_at_nothing_never_crosses_and_holds_ended_jobs_at_their_total() -> None:
    minutes = np.tile([10.0, 20.0, 30.0], 6)
    kg = (np.arange(1, 7)[:, None] * np.array([1.0, 2.0, 3.0])).ravel()
    minutes[-1] = 300.0

    band = band_of_similar(minutes, kg, np.repeat(list("abcdef"), 3), steps=31)

    assert band.p90[0] == 0.0
    assert (band.p10 <= band.p50).all()
    assert (band.p50 <= band.p90).all()
    assert band.minutes[-1] == pytest.approx(165.0)  # nine tenths of the way from 30 to 300: 5 of 6 end at 30
    assert band.p10[-1] == pytest.approx(4.5)  # the totals are 3, 6, …, the tenth percentile lies half way


def test_under_five_jobs_there_is_no_band() -> None:
    with pytest.raises(NotEnoughData, match="at least 5 similar jobs with weighings; there are 2"):
        band_of_similar([1, 2], [1, 2], ["a", "b"])
