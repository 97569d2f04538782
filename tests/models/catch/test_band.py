"""The band of similar jobs against a plain loop."""

from __future__ import annotations

import numpy as np
import pytest

from models.catch.band import MOST_JOBS, as_share, band, minutes_to, packed, picked
from models.catch.records.ragged_arrays import Ragged, ragged
from models.refusals import NotEnoughData


def test_the_band_equals_quantiles_of_curves_interpolated_one_by_one() -> None:
    rng = np.random.default_rng(6)
    size = rng.integers(1, 12, 40)
    minutes = [np.sort(rng.uniform(1.0, 400.0, n)) for n in size]
    kg = [np.cumsum(rng.exponential(0.3, n)) for n in size]
    flat = [np.concatenate(part) for part in (minutes, kg)]
    shuffled = rng.permutation(size.sum())

    of_all = band(ragged(flat[0][shuffled], flat[1][shuffled], np.repeat(np.arange(40), size)[shuffled])[1])

    each = [np.interp(of_all.minutes, [0.0, *m], [0.0, *y]) for m, y in zip(minutes, kg, strict=True)]
    for name, level in (("p10", 0.1), ("p25", 0.25), ("p50", 0.5), ("p75", 0.75), ("p90", 0.9)):
        assert getattr(of_all, name) == pytest.approx(np.quantile(each, level, axis=0), rel=1e-9, abs=1e-12)
    assert of_all.jobs == 40


def test_the_band_starts_at_nothing_never_crosses_and_holds_ended_jobs_at_their_total() -> None:
    minutes = np.tile([10.0, 20.0, 30.0], 10)
    kg = (np.arange(1, 11)[:, None] * np.array([1.0, 2.0, 3.0])).ravel()
    minutes[-1] = 300.0

    of_ten = band(ragged(minutes, kg, np.repeat(list("abcdefghij"), 3))[1], steps=31)

    assert of_ten.p90[0] == 0.0
    assert (of_ten.p10 <= of_ten.p50).all()
    assert (of_ten.p50 <= of_ten.p90).all()
    assert of_ten.minutes[-1] == pytest.approx(57.0)  # a tenth of the way from 30 to 300: 9 of 10 end at 30
    assert of_ten.p10[-1] == pytest.approx(5.7)  # the totals are 3, 6, …: nine tenths of the way from the first on


def test_under_eight_jobs_there_is_no_band() -> None:
    with pytest.raises(NotEnoughData, match="at least 8 jobs with weighings; there are 2"):
        band(ragged(np.array([1.0, 2.0]), np.array([1.0, 2.0]), np.array(["a", "b"]))[1])


def curves(jobs: int) -> Ragged:
    """Job k weighs k + 1 times its 1, 2, 4 at minutes 10, 20, 40; every fifth job was never weighed."""
    place = np.repeat([job for job in range(jobs) if job % 5], 3)
    y = (place + 1.0) * np.tile([1.0, 2.0, 4.0], place.size // 3)
    return packed(np.tile([10.0, 20.0, 40.0], place.size // 3), y, place.astype(np.intp), jobs)


def test_jobs_without_a_weighing_are_passed_over_and_the_others_keep_their_points() -> None:
    some = picked(curves(20), np.array([12, 5, 3]))

    assert some.size.tolist() == [3, 3]
    assert some.y.tolist() == [13.0, 26.0, 52.0, 4.0, 8.0, 16.0]


def test_more_jobs_than_a_band_needs_are_taken_evenly_from_first_to_last() -> None:
    some = picked(curves(1000), np.arange(1000), most=100)

    numbers = some.y[some.first] - 1.0
    assert some.first.size == 100
    assert (numbers[0], numbers[-1]) == (1.0, 999.0)
    assert np.diff(numbers).max() <= 12


def test_shares_end_at_one_for_every_job_that_gave_something_and_half_is_told_in_minutes() -> None:
    nothing = packed(np.array([10.0]), np.array([0.0]), np.array([0], dtype=np.intp), 1)
    shares = as_share(picked(curves(40), np.arange(40)))

    assert as_share(nothing).size.size == 0
    assert (shares.y[shares.first + shares.size - 1] == 1.0).all()
    # a quarter at 10, a half at 20 minutes of every curve; the grid of 61 steps holds minute 20
    assert minutes_to(0.5, band(shares)) == pytest.approx(20.0)


def test_an_even_sample_gives_nearly_the_band_of_all() -> None:
    rng = np.random.default_rng(2)
    jobs = 12_000
    y = np.exp(rng.normal(0.5, 0.8, jobs))[:, None] * np.array([0.5, 0.8, 1.0])
    many = packed(np.tile([60.0, 120.0, 240.0], jobs), y.ravel(), np.repeat(np.arange(jobs), 3), jobs)

    whole, sample = (band(picked(many, np.arange(jobs), most)) for most in (None, MOST_JOBS))

    # standard error of a median of 4,000 logs with sd 0.8: 1.25 · 0.8 / √4000 = 1.6 %; five of them
    assert sample.p50[-1] == pytest.approx(whole.p50[-1], rel=0.08)
    assert sample.jobs == MOST_JOBS
