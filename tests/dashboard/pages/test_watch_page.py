"""The page "Watch the catch", looking back: a job of the book at any moment."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

from pipeline.store.book import Book, read_table

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Charts = Callable[["AppTest"], dict[str, dict[str, Any]]]


@pytest.fixture(scope="module")
def newest(page_book: Book) -> pd.Series:
    """The newest job with a weighing, as the page offers it first."""
    build = page_book.current()
    jobs = read_table(build, "jobs").merge(read_table(build, "ftr_outcome"), on=["firm_id", "job_id"])
    order = jobs.sort_values(["visit_date", "job_id"], ascending=[False, True])
    return order[order["magnet_catches"] > 0].iloc[0]


def test_the_whole_catch_of_the_newest_job_is_shown(
    open_page: Open, page_book: Book, charts: Charts, newest: pd.Series
) -> None:
    app = open_page("watch_the_catch", page_book.path)

    spec = next(iter(charts(app).values()))
    measured = next(trace for trace in spec["data"] if trace.get("name") == "magnetite")
    assert measured["y"][-1] == pytest.approx(newest["magnetite_kg"], abs=1e-6)


def test_an_earlier_moment_knows_nothing_of_what_came_later(
    open_page: Open, page_book: Book, charts: Charts, newest: pd.Series
) -> None:
    app = open_page("watch_the_catch", page_book.path)
    curve = read_table(page_book.current(), "ftr_catch_curve")
    own = curve[(curve["job_id"] == newest["job_id"]) & (curve["trap"] == "magnet")].sort_values("minutes_since_start")
    first = own.iloc[0]

    slider = next(s for s in app.select_slider if s.label == "As it stood at")
    slider.set_value(float(first["minutes_since_start"])).run()

    assert not app.exception
    spec = next(iter(charts(app).values()))
    measured = next(trace for trace in spec["data"] if trace.get("name") == "magnetite")
    assert measured["y"] == pytest.approx([0.0, first["dry_g"] / 1000])


def test_without_a_book_the_page_says_what_to_do(open_page: Open) -> None:
    app = open_page("watch_the_catch", None)

    assert not app.exception
    assert "No book is open" in app.info[0].value
