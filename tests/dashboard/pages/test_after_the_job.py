"""On the job book: what came after a job is noted where it is looked at; a search draws the job that the box names."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboard.app_parts.book import book_parts
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
ROWS = ("sim-1,A7,2025-03-06", "north,B1,2025-03-04", "south,B1,2025-03-03", "south,A70,2025-03-05")
"""Firm, number and day of four jobs, the first one simulated."""


@pytest.fixture
def four_jobs(tmp_path: Path) -> Book:
    """Two firms that share a job number, one job of four simulated."""
    heads = "firm_id,job_id,visit_date,system_type,flush_started_at,flush_ended_at"
    lines = [f"{row},sealed,{row.split(',')[2]}T09:00,{row.split(',')[2]}T12:00" for row in ROWS]
    (tmp_path / "log").mkdir()
    emitters = (
        "firm_id,job_id,emitter_no,room",
        "south,B1,1,hall",
        "south,B1,2,",
        "north,B1,7,loft",
        "south,A70,1,bath",
    )
    (tmp_path / "log" / "emitters.csv").write_text("\n".join(emitters))
    (tmp_path / "log" / "jobs.csv").write_text("\n".join([heads, *lines]))
    book = Book(tmp_path / "book")
    load([tmp_path / "log"], book)
    return book


def press(app: AppTest, key: str) -> AppTest:
    return app.button(key=key).click().run()


def test_a_return_visit_is_noted_of_the_job_on_the_page(open_page: Open, four_jobs: Book) -> None:
    app = open_page("job_book", four_jobs.path)
    app.selectbox(key="book_job").select_index(3).run()  # the newest first: the oldest is south's B1
    app.date_input(key="after_day_B1").set_value(date(2025, 6, 2)).run()
    app.selectbox(key="after_cause").set_value("blockage").run()
    about = app.selectbox(key="after_emitter_B1")
    assert about.options == ["hall (1)", "emitter 2"]
    about.set_value(2).run()
    press(app, "after_visit")

    assert not app.exception
    assert "Noted. B1: called back on 02/06/2025, blockage." in [each.value for each in app.success]
    rows = read_table(four_jobs.current(), "callbacks")[["firm_id", "job_id", "cause", "emitter_no"]]
    assert rows.to_numpy().tolist() == [["south", "B1", "blockage", 2]]


def test_asked_and_no_trouble_is_noted_and_a_second_time_said(open_page: Open, four_jobs: Book) -> None:
    app = press(open_page("job_book", four_jobs.path), "after_well")
    assert "no trouble" in app.success[0].value

    press(app, "after_well")

    assert "was followed up to" in app.error[0].value
    jobs = read_table(four_jobs.current(), "jobs").set_index(["firm_id", "job_id"])
    assert jobs["followed_until"].notna().to_dict()[("sim-1", "A7")]
    assert int(jobs["followed_until"].notna().sum()) == 1


def test_a_search_draws_the_job_that_the_box_names(
    open_page: Open, four_jobs: Book, words: Words, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(book_parts, "MOST_LISTED", 2)  # the search is there where not all jobs are listed
    app = open_page("job_book", four_jobs.path)
    app.selectbox(key="book_job").select_index(1).run()
    app.text_input(key="book_find").set_value("B1").run()

    named = app.selectbox(key="book_job").value
    assert named == "north/B1"  # of the two that hold it, the newest
    assert "On 4 March 2025 it gave" in words(app)


def test_every_page_says_how_many_of_how_many_jobs_are_simulated(
    open_page: Open, four_jobs: Book, words: Words
) -> None:
    assert "1 of 4 jobs in this book is simulated." in words(open_page("job_book", four_jobs.path))
