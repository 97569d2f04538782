"""A job left open, or begun at a time that cannot be: the page says so in a sentence, and finishes it all the same."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import read_site_job
from pipeline.store.book import Book, read_table

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
PAGE = "watch_the_catch"


def begin(book: Book, began: datetime, saved: datetime) -> Book:
    """A job that says it began then, with a weighing an hour after it was written down."""
    facts = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": 1}], "flush_started_at": began}
    record(book, "A1", "start", facts, Sender("s"), now=saved)
    record(book, "A1", "catch", {"mass_g": 300, "trap": "magnet"}, Sender("c"), now=saved + timedelta(hours=1))
    return book


def days_ago(days: int) -> datetime:
    """Nine in the morning of that day."""
    return datetime.now().replace(hour=9, minute=0, second=0, microsecond=0) - timedelta(days=days)


def test_a_job_left_open_a_week_is_finished_on_the_day_it_ended(open_page: Open, tmp_path: Path) -> None:
    book = begin(Book(tmp_path / "book"), days_ago(8), days_ago(8))
    app = open_page(PAGE, book.path)

    assert not app.exception
    assert "the end of the flow is more than 5 days after the start of the flow" in app.info[0].value
    app.time_input(key="site_ended").set_value((days_ago(8) + timedelta(hours=3)).time()).run()
    app.button(key="site_finish_now").click().run()
    assert not app.exception
    assert "A1 is in the book." in app.success[0].value
    (job,) = read_table(book.current(), "jobs").to_dict("records")
    assert (job["flush_started_at"], job["flush_ended_at"]) == (days_ago(8), days_ago(8) + timedelta(hours=3))


def test_an_end_that_the_book_would_reject_is_refused_before_it_is_saved(open_page: Open, tmp_path: Path) -> None:
    book = begin(Book(tmp_path / "book"), days_ago(8), days_ago(8))
    app = open_page(PAGE, book.path)
    app.date_input(key="site_ended_on").set_value(days_ago(0).date()).run()
    app.button(key="site_finish_now").click().run()

    assert not app.exception
    assert "Not finished: the end of the flow is more than 5 days" in app.error[0].value
    assert read_site_job(book, "A1").finish is None


@pytest.mark.parametrize(
    ("began", "said"),
    [
        (days_ago(-2), "the day of the visit is after"),
        (datetime(1970, 1, 1, 9), "the day of the visit is before 1980"),
        (datetime(9999, 12, 31, 23, 59, 30), "the day of the visit is after"),
        (datetime(1, 1, 1), "the day of the visit is before 1980"),
    ],
)
def test_a_start_that_cannot_be_is_put_right_as_the_job_is_finished(
    open_page: Open, tmp_path: Path, began: datetime, said: str
) -> None:
    book = begin(Book(tmp_path / "book"), began, days_ago(1))
    app = open_page(PAGE, book.path)

    assert not app.exception
    assert said in app.info[0].value
    app.date_input(key="site_began_on").set_value(days_ago(1).date()).run()
    app.time_input(key="site_began_at").set_value(days_ago(1).time()).run()
    app.time_input(key="site_ended").set_value((days_ago(1) + timedelta(hours=2)).time()).run()
    app.button(key="site_finish_now").click().run()
    (job,) = read_table(book.current(), "jobs").to_dict("records")
    assert (job["flush_started_at"], job["flush_ended_at"]) == (days_ago(1), days_ago(1) + timedelta(hours=2))
