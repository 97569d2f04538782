"""One job's story says what deserves a look, in plain words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.app_parts.book.book_parts import record_warnings
from pipeline.intake.load import load
from pipeline.store.book import Book

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

JOBS = (
    "job_id,survey_ph,system_type,visit_date,flush_started_at,flush_ended_at\n"
    "a,12.5,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00"
)
CATCHES = "job_id,catch_no,caught_at,trap,mass_g\na,1,2025-03-04T08:59,magnet,50\na,2,2025-03-04T10:00,magnet,190"


def warning(sentence: str) -> dict[str, str]:
    place = {"table": "readings", "column": "flow_l_min", "value": "90"}
    return {**place, "reason": "unusual", "sentence": sentence}


def test_a_jobs_story_says_what_deserves_a_look(
    open_page: Callable[..., AppTest], words: Callable[[AppTest], str], tmp_path: Path
) -> None:
    (tmp_path / "jobs.csv").write_text(JOBS)
    (tmp_path / "catches.csv").write_text(CATCHES)
    load([tmp_path / "jobs.csv", tmp_path / "catches.csv"], Book(tmp_path / "book"))

    app = open_page("job_book", tmp_path / "book")

    assert not app.exception
    (box,) = app.warning
    assert "Weighing 1:" in box.value
    assert "trap opened and cleaned 2025-03-04 08:59 is before flush started at." in box.value
    assert "jobs.csv line 2: system water at survey, pH 12.5 is unusual: outside 6..11" in box.value
    assert "caught_at" not in box.value


def test_a_job_without_warnings_has_no_box(open_page: Callable[..., AppTest], tmp_path: Path) -> None:
    (tmp_path / "jobs.csv").write_text(JOBS.replace("12.5", "7.5"))
    load([tmp_path / "jobs.csv"], Book(tmp_path / "book"))

    app = open_page("job_book", tmp_path / "book")

    assert not app.exception
    assert not app.warning


def test_the_same_thing_about_many_rows_is_said_once() -> None:
    said = record_warnings([warning(f"readings.csv line {line}: flow_l_min 90 is unusual.") for line in (2, 3, 4)])

    assert said == ["readings.csv line 2: flow 90 L/min is unusual. And 2 rows more like it."]
