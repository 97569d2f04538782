"""The account of a load: what became of every row of a batch, read from the build it went into."""

from __future__ import annotations

from dataclasses import astuple, dataclass
from pathlib import Path

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import Finding
from pipeline.privacy.private_text import WITHOUT
from pipeline.store.book import read_records


@dataclass(frozen=True, slots=True)
class TableCounts:
    """What became of the rows of one table in this load; the five states add up to `rows`."""

    rows: int
    accepted: int
    rejected: int
    duplicates: int
    waiting: int
    superseded: int


@dataclass(frozen=True, slots=True)
class FileCounts:
    """What became of the rows of one table of one file, in the same states."""

    file: str
    table: str
    counts: TableCounts


@dataclass(frozen=True, slots=True)
class Reject:
    """One fault of one rejected row."""

    file: str
    table: str
    line: int
    column: str
    value: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class LoadReport:
    """The account of one load. `is_new` is false when the same files were in the book already and nothing changed."""

    batch: str
    build: str
    is_new: bool
    tables: dict[str, TableCounts]
    files: tuple[FileCounts, ...]
    rejects: tuple[Reject, ...]
    findings: tuple[Finding, ...]
    seconds: float


_COUNTS = """
select file, table_name as "table", sum(rows)::bigint as rows, sum(accepted)::bigint as accepted,
    sum(rejected)::bigint as rejected, sum(duplicates)::bigint as duplicates, sum(waiting)::bigint as waiting,
    sum(superseded)::bigint as superseded
from ledger where batch_id = $batch group by file, table_name order by file, table_name
"""
_REJECTS = """
select file, table_name as "table", line, column_name as "column", value, reason from rejects
where $batch is null or batch_id = $batch
"""


def file_counts(build: Path, batch: str, *, is_new: bool) -> tuple[FileCounts, ...]:
    """The account of one batch by file and table. Files that were in the book already count as duplicates."""
    found = []
    for row in read_records(build, _COUNTS, batch=batch):
        file, table = row.pop("file"), row.pop("table")
        counts = TableCounts(**row)
        if not is_new:
            counts = TableCounts(counts.rows, 0, counts.rejected, counts.rows - counts.rejected, 0, 0)
        found.append(FileCounts(file, table, counts))
    return tuple(found)


def by_table(files: tuple[FileCounts, ...]) -> dict[str, TableCounts]:
    """The account of one batch by table, in the order of the job log."""
    every = {name: [astuple(each.counts) for each in files if each.table == name] for name in JOB_LOG}
    return {name: TableCounts(*map(sum, zip(*rows, strict=True))) for name, rows in every.items() if rows}


def rejects_of(build: Path, batch: str | None = None) -> tuple[Reject, ...]:
    """Rejects of one batch, or of the whole book, in the order of files and lines."""
    return tuple(Reject(**row) for row in read_records(build, _REJECTS, batch=batch))


def batch_notes(build: Path, batch: str) -> tuple[Finding, ...]:
    """Rows of a batch that wait for their job, and cells that were loaded without something private."""
    return (*_waiting_notes(build, batch), *_private_notes(build, batch))


_WAITING = "select coalesce(sum(waiting), 0)::bigint as n from ledger where batch_id = $batch"


def _waiting_notes(build: Path, batch: str) -> tuple[Finding, ...]:
    waiting = read_records(build, _WAITING, batch=batch)[0]["n"]
    if not waiting:
        return ()
    rows = "1 row waits for its job and counts" if waiting == 1 else f"{waiting} rows wait for their jobs and count"
    sentence = f"{rows} by itself once that job is loaded and accepted."
    if waiting > 1:
        sentence = f"{rows} by themselves once those jobs are loaded and accepted."
    return (Finding("rows_waiting", sentence, {"rows": waiting}),)


_PRIVATE = "select count(*)::bigint as n from row_warnings where batch_id = $batch and starts_with(reason, $words)"


def _private_notes(build: Path, batch: str) -> tuple[Finding, ...]:
    cells = read_records(build, _PRIVATE, batch=batch, words=WITHOUT)[0]["n"]
    if not cells:
        return ()
    sentence = "1 cell held a private detail and was loaded without it; the received file keeps it."
    if cells > 1:
        sentence = f"{cells} cells held private details and were loaded without them; the received files keep them."
    return (Finding("private_left_out", sentence, {"cells": cells}),)
