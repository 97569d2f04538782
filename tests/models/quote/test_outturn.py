"""What an owner acts on, told of later jobs and come: shares by hand, and nothing known before its day."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from models.quote.backtest import backtest
from models.quote.base.past_jobs import history
from models.quote.outturn import Outturn, PriceInputs, _as_known, _share, _top_fifth
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planter


def test_a_share_is_told_of_known_jobs_alone_with_exact_limits() -> None:
    told = np.linspace(0.0, 0.5, 30)
    came = np.array([1.0] * 5 + [0.0] * 20 + [np.nan] * 5)

    found = _share("second_day", told, came)

    assert found is not None
    assert (found.jobs, found.came) == (25, 0.2)
    assert found.told == pytest.approx(told[:25].mean())
    # Clopper and Pearson of 5 in 25: 0.0683 to 0.4070 (scipy's binomtest agrees)
    assert (found.low, found.high) == pytest.approx((0.0683, 0.4070), abs=1e-4)
    assert _share("second_day", told[:19], came[:19]) is None


def test_as_told_is_within_the_limits_ends_included() -> None:
    assert Outturn("loss", 100, 0.1, 0.05, 0.1, 0.2).is_as_told
    assert not Outturn("loss", 100, 0.1, 0.05, 0.01, 0.09).is_as_told
    assert not Outturn("loss", 100, 0.1, 0.15, 0.11, 0.2).is_as_told


def test_the_top_fifth_of_ten_is_two() -> None:
    assert np.flatnonzero(_top_fifth(np.arange(10.0))).tolist() == [8, 9]


def test_callbacks_count_as_they_were_known_on_the_day(planter: Planter) -> None:
    book = planter(4, seed=3)
    days = pd.to_datetime(["2030-01-01", "2030-01-01", "2030-01-21", "2030-03-01"])
    past = history(book.features.assign(visit_date=days), book.outcomes)
    callback = pd.DataFrame({"firm_id": "own", "job_id": past.frame["job_id"], "followed_days": 400})
    callback = callback.assign(first_debris_day=[29.0, 31.0, np.nan, 5.0], first_other_day=[np.nan, 30.0, 12.0, np.nan])

    known = _as_known(callback, past, np.arange(3), np.datetime64("2030-01-31"))

    assert known["followed_days"].tolist() == [30, 30, 10]  # 30 days after 1 January, 10 after the 21st
    assert known["first_debris_day"].tolist() == pytest.approx([29.0, np.nan, np.nan], nan_ok=True)
    assert known["first_other_day"].tolist() == pytest.approx([np.nan, 30.0, np.nan], nan_ok=True)


def test_a_rate_of_callbacks_that_doubles_is_seen(planter: Planter) -> None:
    """Every tenth of the older jobs comes back after a month, every fifth of the newer ones."""
    book = planter(600, seed=4)
    place = np.arange(600)
    back = np.where(place < 300, place % 10 == 0, place % 5 == 0)
    callback = pd.DataFrame({"firm_id": "own", "job_id": book.features["job_id"], "followed_days": 700})
    callback = callback.assign(first_debris_day=np.where(back, 30.0, np.nan), first_other_day=np.nan)

    scores = backtest(book.features, book.outcomes, inputs=PriceInputs(book.volumes, Firm(), callback))
    found = {each.name: each for each in scores.acted_on}["callback"]

    assert found.came == pytest.approx(0.2, abs=0.01)
    assert 0.09 < found.told < 0.16
    assert not found.is_as_told
