"""History: each version of each row of a job, from which file, when, what became of it and what it changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

from pipeline.build import CORE_STEPS, run_steps
from pipeline.checks.batch_sources import source_of
from pipeline.checks.check_batch import is_checked
from pipeline.checks.original_rows import original_rows
from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Table, row_key
from pipeline.contract.findings import BadInput
from pipeline.intake.write_faults import reading_checked
from pipeline.readers.files import LINE
from pipeline.renew import TIE, attach_touched
from pipeline.store.book import Book, new_build
from pipeline.store.checked_files import read_checked, scan_checked
from pipeline.store.received import Batch, batches

Place = tuple[int, int, int]
"""Batch number, source number and line: where a row came from."""

_JUDGED = ("catches", "readings", "callbacks")


@dataclass(frozen=True, slots=True)
class Change:
    """One cell that differs from the version before it; None: empty."""

    column: str
    before: object
    after: object


@dataclass(frozen=True, slots=True)
class RowVersion:
    """One version of one row: `key` names the row within the job, `state` says what became of it.

    `values` holds the cells that are not empty, as they count; those of a row that was rejected as it
    came. `changes` are against the version of the row that was received before it.
    """

    table: str
    key: str
    values: Mapping[str, object]
    batch: str
    file: str
    line: int
    received_at: datetime
    state: str
    reasons: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True)
class _Row:
    """A row before its state is told."""

    table: Table
    place: Place
    values: dict[str, object]


def find_any_job(book: Book, name: str) -> tuple[str, str]:
    """(firm_id, job_id) of `JOB` or `FIRM/JOB` among all rows ever received; BadInput when there is none or many."""
    book.refuse_pool()
    folders = [book.checked / batch.batch_id for batch in _checked(book)]
    with reading_checked(book):
        frames = [read_checked(folder / f"{part}.parquet").select(TIE) for folder in folders for part in _NAMING]
    known = pl.concat(frames).drop_nulls().unique(maintain_order=True)
    firm, _, job = name.rpartition("/")
    found = known.filter((pl.col("job_id") == job) & ((pl.col("firm_id") == firm) | pl.lit(not firm)))
    if not found.height:
        found = known.filter(pl.col("job_id") == name)
    if not found.height:
        raise BadInput(f"No row of a job {name!r} was ever received; `sludgebook export jobs OUT.csv` lists the jobs.")
    if found.height > 1:
        names = ", ".join(sorted("/".join(row) for row in found.rows())[:5])
        raise BadInput(f"{found.height} firms have a job {name!r}; name one of {names}.")
    return found.rows()[0]


_NAMING = ("spans", "rejects")


def history(book: Book, firm_id: str, job_id: str) -> tuple[RowVersion, ...]:
    """Every version of every row of one job, table by table, row by row, in the order received."""
    with reading_checked(book):
        return _versions(book, firm_id, job_id)


def _versions(book: Book, firm_id: str, job_id: str) -> tuple[RowVersion, ...]:
    everything = _checked(book)
    touched = pl.DataFrame({"firm_id": [firm_id], "job_id": [job_id]})
    with new_build(Path(":memory:")) as scratch:
        attach_touched(scratch, [book.checked / batch.batch_id for batch in everything], touched)
        run_steps(scratch, CORE_STEPS)
        states = _States(scratch, {batch.number: batch for batch in everything}, _faults(book, everything, touched))
        rows = [row for table in JOB_LOG.values() for row in _accepted_rows(scratch, table)]
    rows += _rejected_rows(states, {row.place for row in rows})
    order = list(JOB_LOG)
    rows.sort(key=lambda row: (order.index(row.table.name), *_sortable(row), row.place))
    versions: list[RowVersion] = []
    for row in rows:
        versions.append(states.version(row, versions))
    return tuple(versions)


def _checked(book: Book) -> list[Batch]:
    found = [batch for batch in batches(book) if is_checked(book, batch)]
    if not found:
        book.current()  # says what is missing
        raise BadInput(f"The book {book.path} was made by other rules; load any file again to check it by these.")
    return found


def _accepted_rows(scratch: duckdb.DuckDBPyConnection, table: Table) -> list[_Row]:
    """Rows that kept every rule of their own; they may still have been rejected for what stands around them."""
    frame = pl.DataFrame(scratch.table("checked_" + table.name).to_arrow_table())
    return [
        _Row(table, (row["batch_no"], row["source_no"], row[LINE]), {name: row[name] for name in table.names})
        for row in frame.iter_rows(named=True)
    ]


def _faults(book: Book, everything: list[Batch], job: pl.DataFrame) -> list[dict[str, Any]]:
    """Faults of the job's rows in every batch, also in one that holds no good row of it."""
    folders = [book.checked / batch.batch_id for batch in everything]
    found = scan_checked(folders, "rejects.parquet").join(job.lazy(), on=TIE, how="semi").collect()
    return list(found.iter_rows(named=True))


class _States:
    """What the staging tables say of each row of the job: rejects, single rows, whole sources."""

    def __init__(
        self, scratch: duckdb.DuckDBPyConnection, by_number: dict[int, Batch], faults: list[dict[str, Any]]
    ) -> None:
        self.by_number = by_number
        self.sources = {(s["batch_no"], s["source_no"]): s for s in _rows_of(scratch, "checked_sources")}
        self.reasons: dict[Place, list[str]] = {}
        for fault in faults:
            column = f"{fault['column_name']}: " if fault["column_name"] else ""
            self.reasons.setdefault(_place(fault), []).append(column + fault["reason"])
        self.single: dict[Place, str] = {}
        for name in JOB_LOG:
            for row in _rows_of(scratch, "stg_" + name):
                self.single[_place(row)] = row["status"]
                if name in _JUDGED and row["reason"]:
                    self.reasons[_place(row)] = [f"{row['column_name']}: {row['reason']}"]
        spans = _rows_of(scratch, "stg_job_spans") + _rows_of(scratch, "stg_spans")
        self.whole = {(s["batch_no"], s["source_no"]): s["status"] for s in spans}

    def version(self, row: _Row, before: list[RowVersion]) -> RowVersion:
        """The row with its state, and its changes against the version before it."""
        number, source, line = row.place
        batch = self.by_number[number]
        reasons = tuple(self.reasons.get(row.place, ()))
        state = "rejected" if reasons else self.single.get(row.place) or self.whole[number, source]
        values = {name: _plain(value) for name, value in row.values.items() if value is not None}
        key = " ".join(str(values.get(name, "")) for name in row_key(row.table))
        file = self.sources[number, source]["file"]
        changes = () if state == "rejected" else _changes(row.table, key, values, before)
        return RowVersion(
            row.table.name, key, values, batch.batch_id, file, line, batch.received_at, state, reasons, changes
        )


def _rejected_rows(states: _States, known: set[Place]) -> list[_Row]:
    """Rows that broke a rule of their own, read from the received files as they came."""
    by_source: dict[tuple[int, int], list[int]] = {}
    for number, source, line in sorted(set(states.reasons) - known):
        by_source.setdefault((number, source), []).append(line)
    rows = []
    for (number, source), lines in by_source.items():
        facts, batch = states.sources[number, source], states.by_number[number]
        table = JOB_LOG[facts["table_name"]]
        cells = original_rows(source_of(batch, facts["file"], table.name), lines).cells
        for line in lines:
            found = cells.get(line, {})
            rows.append(_Row(table, (number, source, line), {name: found.get(name) for name in table.names}))
    return rows


def _changes(table: Table, key: str, values: dict[str, object], before: list[RowVersion]) -> tuple[Change, ...]:
    """Against the newest earlier version of the same row that was not rejected; none for a first version."""
    for earlier in reversed(before):
        if (earlier.table, earlier.key) != (table.name, key):
            break
        if earlier.state != "rejected":
            old = earlier.values
            return tuple(
                Change(name, old.get(name), values.get(name))
                for name in table.names
                if old.get(name) != values.get(name)
            )
    return ()


def _sortable(row: _Row) -> tuple[bool, float, str]:
    """Numbers by size, times by their text; a key that could not be read comes last."""
    key = [row.values[name] for name in row_key(row.table)]
    if isinstance(key[0], int):
        return False, float(key[0]), str(key[0])
    text = " ".join(str(_plain(value) or "") for value in key)
    return (False, float(text), text) if text.isdecimal() else (True, 0.0, text)


def _rows_of(scratch: duckdb.DuckDBPyConnection, name: str) -> list[dict[str, Any]]:
    return list(pl.DataFrame(scratch.table(name).to_arrow_table()).iter_rows(named=True))


def _place(row: Mapping[str, Any]) -> Place:
    return row["batch_no"], row["source_no"], row[LINE]


def _plain(value: object) -> object:
    """Times and days as the job log writes them, all else as it is."""
    if isinstance(value, datetime):
        return value.isoformat(timespec="auto" if value.second or value.microsecond else "minutes")
    return value.isoformat() if isinstance(value, date) else value
