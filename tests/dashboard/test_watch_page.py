"""The page "Watch the catch": a job of the book at any moment, and one typed in on site."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

from dashboard.app_parts.weighings import empty_rows, to_weighings
from pipeline.book import Book, read_table

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
Charts = Callable[["AppTest"], dict[str, dict[str, Any]]]


def weighing(app: AppTest, minutes: float, grams: float, emitter: int | None = None) -> None:
    app.number_input(key="watch_minutes").set_value(minutes)
    app.number_input(key="watch_grams").set_value(grams)
    app.number_input(key="watch_emitter").set_value(emitter)
    app.button(key="watch_add").click().run()


def by_hand(app: AppTest) -> AppTest:
    return app.segmented_control(key="watch_source").set_value("By hand").run()


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


def test_a_job_by_hand_starts_empty_and_says_what_to_do(open_page: Open, page_book: Book, words: Words) -> None:
    app = by_hand(open_page("watch_the_catch", page_book.path))

    assert not app.exception
    assert "No weighing yet." in words(app)


def test_weighings_by_hand_add_up_dry(open_page: Open, page_book: Book) -> None:
    app = by_hand(open_page("watch_the_catch", page_book.path))

    for minutes, grams in ((20, 800), (40, 500), (60, 300), (80, 200), (100, 120)):
        weighing(app, minutes, grams)

    # 1920 g wet at the default wet/dry ratio of 2.0 are 0.96 kg dry
    assert not app.exception
    assert (app.metric[0].label, app.metric[0].value) == ("Caught, dry", "0.96 kg")


def test_a_weighing_without_its_grams_is_not_added(open_page: Open, page_book: Book) -> None:
    app = by_hand(open_page("watch_the_catch", page_book.path))
    app.number_input(key="watch_minutes").set_value(20.0)

    app.button(key="watch_add").click().run()

    assert [e.value for e in app.error] == ["A weighing needs its minutes and its grams."]
    assert len(app.session_state["watch_rows"]) == 0


def test_a_job_can_be_typed_in_without_any_book(open_page: Open) -> None:
    app = by_hand(open_page("watch_the_catch", None))

    weighing(app, 30, 400, emitter=2)

    assert not app.exception
    assert app.metric[0].value == "0.20 kg"


def test_rows_half_filled_in_are_not_yet_weighings() -> None:
    rows = pd.concat([
        empty_rows(),
        pd.DataFrame({"minutes": [10.0, 20.0], "emitter": [3, None], "grams": [250.0, None], "weighed": ["dry", None],
                      "trap": ["strainer", None]}).astype(empty_rows().dtypes.to_dict()),
    ])  # fmt: skip

    (one,) = to_weighings(rows)

    assert (one.minutes, one.emitter_no, one.grams, one.weighed, one.trap) == (10.0, 3, 250.0, "dry", "strainer")
