"""A book of the twelve jobs typed in by hand, beside a neighbour's that bear the same numbers, and a way to write a
small log in a test."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import polars as pl
import pytest

from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.store.book import Book, read_table

HAND_WRITTEN = Path(__file__).parents[1] / "data" / "hand_written"

Row = Callable[[str, str], dict[str, object]]
WriteLog = Callable[..., Path]


NEIGHBOUR = "neighbour"
NEIGHBOURS_JOBS = ("H-01", "H-02", "H-03", "H-04", "H-08")
"""Numbers that two firms share; no row of these jobs is at fault."""
CHANGED = {
    "catches": pl.col("mass_g").cast(pl.Int64) * 2,
    "emitters": pl.col("length_mm").cast(pl.Int64) + 200,
    "pipe_runs": pl.col("length_m").cast(pl.Float64) * 2,
    "readings": pl.col("flow_l_min").cast(pl.Float64) + 1,
    "callbacks": pl.lit("2024-12-01").alias("called_back_on"),
    "jobs": pl.lit("E2").alias("engineer_id"),
}
"""What is other in the neighbour's log, so that a row which strays from one firm to the other is seen."""


def neighbours_log(folder: Path) -> Path:
    """Another firm's log of jobs with the same numbers."""
    folder.mkdir()
    for name, changed in CHANGED.items():
        rows = pl.read_csv(HAND_WRITTEN / f"{name}.csv", infer_schema=False)
        rows = rows.filter(pl.col("job_id").is_in(NEIGHBOURS_JOBS)).with_columns(changed)
        rows.with_columns(pl.lit(NEIGHBOUR).alias("firm_id")).write_csv(folder / f"{name}.csv")
    return folder


@pytest.fixture(scope="session")
def hand_report(tmp_path_factory: pytest.TempPathFactory) -> tuple[Book, LoadReport]:
    """The book of two firms, two batches and the same job numbers; the report is that of the firm's own log."""
    folder = tmp_path_factory.mktemp("hand")
    book = Book(folder / "book")
    load([neighbours_log(folder / "neighbour")], book)
    return book, load([HAND_WRITTEN], book)


@pytest.fixture(scope="session")
def hand_row(hand_report: tuple[Book, LoadReport]) -> Row:
    """The row of one of the firm's own jobs in one feature table of the hand-written book."""
    build = hand_report[0].current()

    def row(table: str, job_id: str) -> dict[str, object]:
        frame = read_table(build, table)
        (found,) = frame[(frame["firm_id"] == "own") & (frame["job_id"] == job_id)].to_dict("records")
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
