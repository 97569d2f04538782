"""Splits by time: nothing that is tested or calibrated on is older than what was fitted."""

from __future__ import annotations

import numpy as np
import pytest

from models.splits import calibrate_by_firm, fit_and_calibrate, rolling_folds


def _days(n: int, seed: int = 0) -> np.ndarray:
    draws = np.random.default_rng(seed).integers(0, n // 3, n)
    return np.datetime64("2031-01-01") + draws.astype("timedelta64[D]")


def test_calibration_rows_are_later_than_every_fitted_row() -> None:
    days = _days(300)

    window = fit_and_calibrate(days)

    assert days[window.fit].max() < days[window.calibrate].min()
    assert sorted([*window.fit, *window.calibrate]) == list(range(300))
    assert len(window.calibrate) == pytest.approx(90, abs=5)  # 30 %, cut at a whole day


def test_every_fold_fits_before_it_calibrates_before_it_tests() -> None:
    days = _days(400)

    folds = rolling_folds(days, folds=4)

    assert len(folds) == 4
    for fold in folds:
        assert days[fold.fit].max() < days[fold.calibrate].min()
        assert days[fold.calibrate].max() < days[fold.test].min()


def test_each_row_of_the_newer_half_is_tested_once() -> None:
    folds = rolling_folds(_days(400), folds=3)

    tested = np.concatenate([fold.test for fold in folds])

    assert len(set(tested)) == len(tested) == pytest.approx(200, abs=5)


def test_a_job_never_stands_twice() -> None:
    with pytest.raises(ValueError, match="stands twice"):
        fit_and_calibrate(_days(4), keys=["a", "b", "a", "c"])


def test_one_day_cannot_be_split() -> None:
    with pytest.raises(ValueError, match="one day"):
        fit_and_calibrate(np.full(50, np.datetime64("2031-01-01")))


@pytest.mark.parametrize(("n", "calibrated"), [(40, 19), (100, 30), (4000, 500)])
def test_calibration_keeps_to_its_bounds(n: int, calibrated: int) -> None:
    days = np.datetime64("2031-01-01") + np.arange(n).astype("timedelta64[D]")

    assert len(fit_and_calibrate(days).calibrate) == calibrated


def test_each_firm_calibrates_on_its_own_newest_rows() -> None:
    days, firms = _days(700), np.array(["a"] * 500 + ["b"] * 180 + ["c"] * 20)

    window = calibrate_by_firm(days, firms)

    assert sorted([*window.fit, *window.calibrate]) == list(range(700))
    for firm, kept in (("a", 150), ("b", 54), ("c", 20)):  # 30 %, at least 25; all of fewer
        later = window.calibrate[firms[window.calibrate] == firm]
        older = window.fit[firms[window.fit] == firm]
        assert kept <= len(later) <= kept + 6  # whole days
        assert len(older) == 0 or days[older].max() < days[later].min()
    assert np.all(np.diff(days[window.calibrate].astype(int)) >= 0)


def test_a_pool_of_thin_firms_alone_keeps_half_to_fit_on() -> None:
    firms = np.repeat(np.arange(20), 20)

    window = calibrate_by_firm(_days(400), firms)

    assert len(window.fit) == pytest.approx(200, abs=20)
    assert set(firms[window.fit]) == set(firms[window.calibrate]) == set(range(20))
