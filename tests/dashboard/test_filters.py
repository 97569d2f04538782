"""Choices are masks: nothing is cut in silence."""

from __future__ import annotations

import pandas as pd
import pytest

from dashboard.filters import Filters


@pytest.fixture
def jobs() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "system_type": ["sealed", "open_vented", "sealed", "sealed"],
            "emitter_count": [8, 9, 15, None],
            "visit_date": pd.to_datetime(["2029-01-05", "2030-02-06", "2031-03-07", "2031-04-08"]),
        }
    )


@pytest.mark.parametrize(
    ("filters", "kept"),
    [
        (Filters(), [0, 1, 2, 3]),
        (Filters(system_types=("sealed",)), [0, 2, 3]),
        (Filters(sizes=("to 8", "15 and more")), [0, 2]),
        (Filters(first_year=2030, last_year=2031), [1, 2, 3]),
        (Filters(system_types=("sealed",), sizes=("to 8",), first_year=2030, last_year=2031), []),
    ],
)
def test_a_choice_keeps_the_jobs_that_fit(jobs: pd.DataFrame, filters: Filters, kept: list[int]) -> None:
    assert jobs.index[filters.mask(jobs)].tolist() == kept


def test_it_says_how_many_jobs_are_left_out_and_why(jobs: pd.DataFrame) -> None:
    said = Filters(system_types=("sealed",), sizes=("to 8",)).left_out(jobs)

    assert said == "3 of 4 jobs left out: 1 another kind of system, 3 another size."


def test_nothing_is_said_when_nothing_is_left_out(jobs: pd.DataFrame) -> None:
    assert Filters(first_year=2029, last_year=2031).left_out(jobs) == ""
