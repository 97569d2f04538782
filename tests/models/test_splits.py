"""Splits by time: what is tested is later than what was learnt from, and folds part no day."""

from __future__ import annotations

import numpy as np
import pytest

from models.splits import interleaved, rolling_folds


def _days(n: int, seed: int = 0) -> np.ndarray:
    draws = np.random.default_rng(seed).integers(0, n // 3, n)
    return np.datetime64("2031-01-01") + draws.astype("timedelta64[D]")


def test_a_day_stands_in_one_fold_and_every_fold_spans_the_whole_time() -> None:
    days = _days(400)

    folds = interleaved(days)

    assert all(len(np.unique(folds[days == day])) == 1 for day in np.unique(days))
    on_record = np.unique(days)
    for fold in range(5):
        its = np.unique(days[folds == fold])
        assert len(its) == pytest.approx(len(on_record) / 5, abs=1)
        places = np.searchsorted(on_record, its)
        assert np.diff(places).max() <= 9  # one in every run of five days
        assert places[0] <= 4
        assert places[-1] >= len(on_record) - 10


def test_no_fold_is_a_day_of_the_week() -> None:
    days = np.busday_offset("2031-01-06", np.arange(100))
    folds = interleaved(days)

    for weekday in range(5):
        assert set(folds[np.arange(100) % 5 == weekday]) == set(range(5))


def test_folds_do_not_hang_on_the_order_of_the_rows() -> None:
    days = _days(60)
    mixed = np.random.default_rng(1).permutation(60)

    assert interleaved(days[mixed]).tolist() == interleaved(days)[mixed].tolist()


def test_of_three_days_each_is_a_fold() -> None:
    assert interleaved(np.array(["2031-01-03", "2031-01-01", "2031-01-02", "2031-01-01"])).tolist() == [2, 0, 1, 0]


def test_what_is_tested_is_later_than_all_that_was_learnt_from() -> None:
    days = _days(400)

    folds = rolling_folds(days, folds=4)

    assert len(folds) == 4
    for fold in folds:
        assert days[fold.before].max() < days[fold.test].min()
        assert np.all(np.diff(days[fold.before].astype(int)) >= 0)
        assert len(fold.before) == (days < days[fold.test].min()).sum()


def test_each_row_of_the_newer_half_is_tested_once() -> None:
    folds = rolling_folds(_days(400), folds=3)

    tested = np.concatenate([fold.test for fold in folds])

    assert len(set(tested)) == len(tested) == pytest.approx(200, abs=5)


def test_a_job_never_stands_twice() -> None:
    with pytest.raises(ValueError, match="stands twice"):
        rolling_folds(_days(4), keys=["a", "b", "a", "c"])


def test_one_day_cannot_be_split() -> None:
    with pytest.raises(ValueError, match="one day"):
        rolling_folds(np.full(50, np.datetime64("2031-01-01")))
