"""A book of the twelve jobs typed in by hand, and a way to write a small log in a test."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.store.book import Book, read_table

HAND_WRITTEN = Path(__file__).parents[1] / "data" / "hand_written"

Row = Callable[[str, str], dict[str, object]]
WriteLog = Callable[..., Path]


@pytest.fixture(scope="session")
def hand_report(tmp_path_factory: pytest.TempPathFactory) -> tuple[Book, LoadReport]:
    book = Book(tmp_path_factory.mktemp("hand") / "book")
    return book, load([HAND_WRITTEN], book)


@pytest.fixture(scope="session")
def hand_row(hand_report: tuple[Book, LoadReport]) -> Row:
    """The row of one job in one feature table of the hand-written book."""
    build = hand_report[0].current()

    def row(table: str, job_id: str) -> dict[str, object]:
        frame = read_table(build, table)
        (found,) = frame[frame["job_id"] == job_id].to_dict("records")
        return found

    return row


JOBS_HEAD = "job_id,system_type,visit_date,flush_started_at,flush_ended_at"
JOB_A = "a,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00"
CATCHES_HEAD = "job_id,catch_no,caught_at,trap,mass_g"


@pytest.fixture
def write_log(tmp_path: Path) -> WriteLog:
    """Write tables given as lines of CSV to a new folder: `write_log(jobs=[head, row, …], catches=[…])`."""
    count = iter(range(100))
    return lambda **tables: _written(tmp_path / f"log{next(count)}", tables)


def _written(folder: Path, tables: dict[str, list[str]]) -> Path:
    folder.mkdir()
    for name, lines in tables.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def one_load(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., tuple[Book, LoadReport]]:
    """`one_load(jobs=[…], catches=[…])`: a book of these tables and the report, for many tests that only read."""

    def loaded(**tables: list[str]) -> tuple[Book, LoadReport]:
        folder = tmp_path_factory.mktemp("one_load")
        book = Book(folder / "book")
        return book, load([_written(folder / "log", tables)], book)

    return loaded


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book(tmp_path / "book")


@pytest.fixture
def frame_of() -> Callable[[Book, str], pd.DataFrame]:
    return lambda book, table: read_table(book.current(), table)
