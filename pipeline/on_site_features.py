"""The tables that a watch reads, for a job on site: the same SQL as the book's, over this one job in memory.

So the catch looks the same on the day and in the book afterwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from threading import Lock
from typing import Any

import duckdb
import pandas as pd
import polars as pl

from pipeline.book import Book, open_memory, read_records
from pipeline.build import FEATURE_STEPS, attach_settings, no_pairs, put_table, run_steps
from pipeline.checking import check_table
from pipeline.contract import DEFAULT_FIRM_ID, JOB_LOG
from pipeline.findings import Finding, SludgebookError
from pipeline.firm import Firm
from pipeline.on_site_finish import cell
from pipeline.on_site_rows import columns_of
from pipeline.reading_tables import LINE, TextTable

_STEPS = tuple(step for step in FEATURE_STEPS if step != "features/ftr_callback")
_ONE_AT_A_TIME = Lock()
_PAIRS = "select firm_id, wet_dry_ratio from ftr_wet_dry_pair where firm_id = $firm_id"


@dataclass(frozen=True, slots=True)
class SiteTables:
    """Tables of one job by name, and what of it broke the format."""

    frames: Mapping[str, pd.DataFrame]
    findings: tuple[Finding, ...] = ()


def site_tables(
    book: Book, rows: Mapping[str, Sequence[Mapping[str, Any]]], now: datetime, tables: Sequence[str]
) -> SiteTables:
    """The core and feature tables named, of one job from rows of the job log; `now` is on its visit or later."""
    typed, faults = {}, []
    for name in JOB_LOG:
        checked = check_table(name, name, _text(rows.get(name, ())), now.date())
        typed[name] = checked.accepted.drop(LINE)
        faults += [
            Finding("left_out", f"Left out: {row['column_name']} {row['value'] or ''} is {row['reason']}.", row)
            for row in checked.rejects.iter_rows(named=True)
        ]
    typed["jobs"] = typed["jobs"].with_columns(
        pl.lit(now.date()).alias("loaded_on"), pl.lit(False).alias("is_simulated")
    )
    typed["kept_wet_dry_pair"] = _pairs(book)
    return SiteTables(_derived(book.firm(), typed, tables), tuple(faults))


def _derived(firm: Firm, typed: Mapping[str, pl.DataFrame], tables: Sequence[str]) -> dict[str, pd.DataFrame]:
    """The tables named: a transaction that is rolled back, so that the database can be used again."""
    with _ONE_AT_A_TIME:
        connection = _kept(firm)
        for name, frame in typed.items():
            put_table(connection, name, frame)
        connection.execute("begin")
        try:
            run_steps(connection, _STEPS)
            return {name: connection.table(name).df() for name in tables}
        finally:
            connection.execute("rollback")


@lru_cache(maxsize=1)
def _kept(firm: Firm) -> duckdb.DuckDBPyConnection:
    """A database in memory that knows the trade tables and the firm's settings."""
    connection = open_memory()
    attach_settings(connection, firm)
    return connection


def _text(rows: Sequence[Mapping[str, Any]]) -> TextTable:
    """Plain values as the text that a file would hold, so that one set of checks serves both."""
    names = columns_of(rows)
    lines = [[number, *(cell(row.get(name)) or None for name in names)] for number, row in enumerate(rows, start=1)]
    return TextTable(pl.DataFrame(lines, schema={LINE: pl.Int64, **dict.fromkeys(names, pl.String)}, orient="row"))


def _pairs(book: Book) -> pl.DataFrame:
    """The firm's own wet / dry ratios as the book knows them; none where there is no build."""
    try:
        known = read_records(book.current(), _PAIRS, firm_id=DEFAULT_FIRM_ID)
    except SludgebookError:
        known = []
    return pl.DataFrame(known, schema=no_pairs().schema)
