"""The tables that a watch reads, for a job on site: the same SQL as the book's, over this one job in memory.

So the catch looks the same on the day and in the book afterwards. An entry changes little: rows that were checked
are not checked again, and what the survey and the plan give is worked out again only when one of them changes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any

import duckdb
import pandas as pd
import polars as pl

from pipeline.build import REQUEST_STEPS, attach_settings, no_pairs, put_table, run_steps
from pipeline.checks.check_rows import CheckedTable, check_table
from pipeline.contract import DEFAULT_FIRM_ID, JOB_LOG
from pipeline.contract.findings import Finding, SludgebookError
from pipeline.contract.firm import Firm
from pipeline.on_site.entry_rows import columns_of
from pipeline.on_site.finish import cell
from pipeline.readers.text_tables import LINE, TextTable
from pipeline.store.book import Book, open_memory, read_records

SURVEY_TABLES = ("ftr_emitter", "ftr_volume", "ftr_quote")
"""What survey and plan give: the steps of a quote request, which know nothing of the flush."""
FLUSH_STEPS = (
    "core/logged_days",
    "core/site_days",
    "features/ftr_job_day",
    "features/ftr_wet_dry_pair",
    "features/ftr_wet_dry",
    "features/ftr_catch_curve",
    "features/ftr_emitter_curve",
)
_ONE_AT_A_TIME = Lock()
_SHORTEST = timedelta(minutes=1)
_PAIRS = "select firm_id, wet_dry_ratio from ftr_wet_dry_pair where firm_id = $firm_id"
_Cells = tuple[tuple[str | None, ...], ...]


@dataclass(frozen=True, slots=True)
class SiteTables:
    """Tables of one job by name, and what of it broke the format."""

    frames: Mapping[str, pd.DataFrame]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class _Content:
    """A frame as plain values that can be compared: its name, columns with their types, rows."""

    name: str
    schema: tuple[tuple[str, Any], ...]
    rows: tuple[tuple[Any, ...], ...]

    @classmethod
    def of(cls, name: str, frame: pl.DataFrame) -> _Content:
        return cls(name, tuple(frame.schema.items()), tuple(frame.rows()))

    def frame(self) -> pl.DataFrame:
        return pl.DataFrame(list(self.rows), schema=dict(self.schema), orient="row")


def site_tables(
    book: Book, rows: Mapping[str, Sequence[Mapping[str, Any]]], now: datetime, tables: Sequence[str]
) -> SiteTables:
    """The tables named, of one job from rows of the job log; `now` is on its visit or later.

    They may be core tables, `SURVEY_TABLES`, and those that `FLUSH_STEPS` make.
    """
    typed, faults = {}, []
    given, ended = _to_the_hour(rows)
    for name in JOB_LOG:
        names = tuple(columns_of(given.get(name, ())))
        checked = _checked(name, names, _cells(given.get(name, ()), names), now.date())
        typed[name] = checked.accepted.drop(LINE)
        faults += [
            Finding("left_out", f"Left out: {row['column_name']} {row['value'] or ''} is {row['reason']}.", row)
            for row in checked.rejects.iter_rows(named=True)
        ]
    typed["jobs"] = typed["jobs"].with_columns(
        pl.lit(now.date()).alias("loaded_on"),
        pl.lit(False).alias("is_simulated"),
        *([pl.lit(ended).cast(typed["jobs"].schema["flush_ended_at"]).alias("flush_ended_at")] if ended else []),
    )
    firm = book.firm()
    known = {name: frame.copy() for name, frame in _surveyed(firm, _survey(typed)).items()}
    flushed = [name for name in tables if name not in known]
    known |= _flushed(firm, {**typed, "kept_wet_dry_pair": _pairs(book)}, flushed)
    return SiteTables({name: known[name] for name in tables}, tuple(faults))


def _to_the_hour(
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
) -> tuple[Mapping[str, Sequence[Mapping[str, Any]]], datetime | None]:
    """The rows with the end of a flush cut to the hour, and that end: while a job goes on it moves with every entry,
    and the row would be checked each time. No rule tells the two apart, but that the flush has begun before."""
    job = next(iter(rows.get("jobs", ())), {})
    started, ended = job.get("flush_started_at"), job.get("flush_ended_at")
    if not isinstance(started, datetime) or not isinstance(ended, datetime) or job.get("left_at") is not None:
        return rows, None
    hour = max(ended.replace(minute=0, second=0, microsecond=0), started + _SHORTEST)
    if hour >= ended:
        return rows, None
    return {**rows, "jobs": [{**job, "flush_ended_at": hour}]}, ended


def _survey(typed: Mapping[str, pl.DataFrame]) -> tuple[_Content, ...]:
    """What is known before the flow starts: a step that asked for more would find no such column."""
    later = [column.name for column in JOB_LOG["jobs"].columns if column.known_by in ("during", "after")]
    plain = {"jobs": typed["jobs"].drop(later), "emitters": typed["emitters"], "pipe_runs": typed["pipe_runs"]}
    return tuple(_Content.of(name, frame) for name, frame in plain.items())


@lru_cache(maxsize=16)
def _surveyed(firm: Firm, survey: tuple[_Content, ...]) -> dict[str, pd.DataFrame]:
    frames = {content.name: content.frame() for content in survey}
    return _derived(firm, frames, REQUEST_STEPS, SURVEY_TABLES)


def _flushed(firm: Firm, typed: Mapping[str, pl.DataFrame], tables: Sequence[str]) -> dict[str, pd.DataFrame]:
    return _derived(firm, typed, FLUSH_STEPS, tables)


def _derived(
    firm: Firm, typed: Mapping[str, pl.DataFrame], steps: tuple[str, ...], tables: Sequence[str]
) -> dict[str, pd.DataFrame]:
    """The tables named: a transaction that is rolled back, so that the database can be used again."""
    with _ONE_AT_A_TIME:
        connection = _kept(firm)
        for name, frame in typed.items():
            put_table(connection, name, frame)
        connection.execute("begin")
        try:
            run_steps(connection, steps)
            return {name: connection.table(name).df() for name in tables}
        finally:
            connection.execute("rollback")


@lru_cache(maxsize=1)
def _kept(firm: Firm) -> duckdb.DuckDBPyConnection:
    """A database in memory that knows the trade tables and the firm's settings."""
    connection = open_memory()
    attach_settings(connection, firm)
    return connection


def _cells(rows: Sequence[Mapping[str, Any]], names: Sequence[str]) -> _Cells:
    """Plain values as the text that a file would hold, so that one set of checks serves both."""
    return tuple(tuple(cell(row.get(name)) or None for name in names) for row in rows)


@lru_cache(maxsize=64)
def _checked(table: str, names: tuple[str, ...], cells: _Cells, today: date) -> CheckedTable:
    lines = [[number, *row] for number, row in enumerate(cells, start=1)]
    text = pl.DataFrame(lines, schema={LINE: pl.Int64, **dict.fromkeys(names, pl.String)}, orient="row")
    return check_table(table, table, TextTable(text), today)


def _pairs(book: Book) -> pl.DataFrame:
    """The firm's own wet / dry ratios as the book knows them; none where there is no build."""
    try:
        known = _pairs_of(book.current())
    except SludgebookError:
        known = ()
    return pl.DataFrame(list(known), schema=no_pairs().schema, orient="row")


@lru_cache(maxsize=4)
def _pairs_of(build: Path) -> tuple[tuple[str, float], ...]:
    """The same of one build, which never changes."""
    return tuple((row["firm_id"], row["wet_dry_ratio"]) for row in read_records(build, _PAIRS, firm_id=DEFAULT_FIRM_ID))
