"""Load: received → checked → built, in one call, with an account of every row."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

import polars as pl
from filelock import FileLock, Timeout

from pipeline.book import Book, read_records, write_whole
from pipeline.build import build_book
from pipeline.checking import FAULT_SCHEMA, CheckedTable, check_table, heading_findings
from pipeline.columns import Table
from pipeline.contract import CONTRACT_VERSION, JOB_LOG
from pipeline.findings import BookError, Finding
from pipeline.reading_files import TextTable, read_text_table, tables_in
from pipeline.received import Batch, Staged, batches, discard, find_sources, receive, stage, sweep

LOCK_SECONDS = 300.0
STAMP = "stamp.json"
POLARS_TYPES: dict[str, pl.DataType] = {
    "text": pl.String(), "choice": pl.String(), "integer": pl.Int64(), "number": pl.Float64(),
    "yes_no": pl.Boolean(), "date": pl.Date(), "time": pl.Datetime("us"),
}  # fmt: skip

Progress = Callable[[int, int, str], None]


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
    """The account of one load. `is_new` is false when the same files were in the book already."""

    batch: str
    build: str
    is_new: bool
    tables: dict[str, TableCounts]
    rejects: tuple[Reject, ...]
    findings: tuple[Finding, ...]
    seconds: float


def load(paths: list[Path], book: Book, progress: Progress | None = None) -> LoadReport:
    """Hand files or folders in to the book; nothing is received when one of them cannot be read at all."""
    started = time.perf_counter()
    sources, findings = find_sources(paths)
    book.create()
    with book_lock(book):
        sweep(book)
        staged = stage(book, sources)
        try:
            texts, heading_notes = _read_all(staged)
            is_new = not (book.received / staged.batch_id).exists()
            if is_new:
                rows = {name: {t: text.rows for t, text in tables.items()} for name, tables in texts.items()}
                receive(book, staged, rows, datetime.now())
            build = rebuild(book, progress)
        finally:
            discard(staged.folder)
    found = (*findings, *heading_notes, *_waiting_notes(build, staged.batch_id))
    counts = table_counts(build, staged.batch_id, is_new=is_new)
    rejects = rejects_of(build, staged.batch_id)
    seconds = round(time.perf_counter() - started, 3)
    return LoadReport(staged.batch_id, build.stem, is_new, counts, rejects, found, seconds)


@contextmanager
def book_lock(book: Book) -> Iterator[None]:
    """Let one load after the other write: waits for its turn, BookError when it takes too long."""
    lock = FileLock(book.path / ".lock", timeout=LOCK_SECONDS)
    try:
        lock.acquire()
    except Timeout as error:
        raise BookError(
            f"Another load has held the book {book.path} for {LOCK_SECONDS:.0f} s; wait until it is done."
        ) from error
    except OSError as error:
        raise BookError(f"The book {book.path} cannot be written: {error.strerror or error}.") from error
    try:
        yield
    finally:
        lock.release()


def rebuild(book: Book, progress: Progress | None = None) -> Path:
    """Check every batch that is not checked by these rules, build, publish. The caller holds the lock."""
    everything = batches(book)
    if not everything:
        raise BookError(f"The book {book.path} holds no jobs yet; load a folder of job logs first.")
    for batch in everything:
        if _stamp_of(book.checked / batch.batch_id) != _stamp():
            check_batch(book, batch)
    return build_book(book, [batch.batch_id for batch in everything], progress)


def _read_all(staged: Staged) -> tuple[dict[str, dict[str, TextTable]], tuple[Finding, ...]]:
    texts: dict[str, dict[str, TextTable]] = {}
    findings: list[Finding] = []
    for source, path, _, _ in staged.files:
        for table in source.tables:
            text = read_text_table(path, table)
            findings += heading_findings(table, source.name, text.headings)
            texts.setdefault(path.name, {})[table] = text
    return texts, tuple(findings)


def _stamp() -> dict[str, object]:
    return {"contract": CONTRACT_VERSION, "polars": version("polars")}


def _stamp_of(folder: Path) -> object:
    try:
        return json.loads((folder / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def check_batch(book: Book, batch: Batch) -> None:
    """Write the checked form of a batch: a Parquet file a table, rejects, warnings, counts."""
    today = batch.received_at.date()
    checked = [
        check_table(table, file.name, read_text_table(batch.folder / file.stored, table), today)
        for file in batch.files
        for table in tables_in(batch.folder / file.stored) or tuple(file.rows)
    ]
    part = book.checked / f".{batch.batch_id}.part"
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(parents=True)
    marks = (
        pl.lit(batch.batch_id).alias("batch_id"),
        pl.lit(batch.number, pl.Int64).alias("batch_no"),
        pl.lit(today, pl.Date).alias("loaded_on"),
    )
    for name, frame in _frames(checked).items():
        frame.with_columns(marks).write_parquet(part / f"{name}.parquet")
    write_whole(part / STAMP, json.dumps(_stamp()).encode())
    target = book.checked / batch.batch_id
    shutil.rmtree(target, ignore_errors=True)
    part.replace(target)


def _frames(checked: list[CheckedTable]) -> dict[str, pl.DataFrame]:
    frames = {
        name: pl.concat([_empty(table), *(c.accepted for c in checked if c.table == name)])
        for name, table in JOB_LOG.items()
    }
    none = pl.DataFrame(schema=FAULT_SCHEMA)
    counts = [(c.file, c.table, c.rows) for c in checked]
    schema = {"file": pl.String, "table_name": pl.String, "rows": pl.Int64}
    return frames | {
        "rejects": pl.concat([none, *(c.rejects for c in checked)]),
        "warnings": pl.concat([none, *(c.warnings for c in checked)]),
        "counts": pl.DataFrame(counts, schema=schema, orient="row"),
    }


def _empty(table: Table) -> pl.DataFrame:
    schema = {column.name: POLARS_TYPES[column.kind] for column in table.columns}
    return pl.DataFrame(schema=schema | {"file": pl.String(), "line": pl.Int64(), "content": pl.Int64()})


_COUNTS = """
select table_name, sum(rows)::bigint as rows, sum(accepted)::bigint as accepted,
    sum(rejected)::bigint as rejected, sum(duplicates)::bigint as duplicates, sum(waiting)::bigint as waiting,
    sum(superseded)::bigint as superseded
from ledger where batch_id = $batch group by table_name
"""
_REJECTS = """
select file, table_name as "table", line, column_name as "column", value, reason from rejects
where $batch is null or batch_id = $batch
"""


def table_counts(build: Path, batch: str, *, is_new: bool) -> dict[str, TableCounts]:
    """The account of one batch by table. Files that were in the book already count as duplicates."""
    found = {row.pop("table_name"): TableCounts(**row) for row in read_records(build, _COUNTS, batch=batch)}
    counts = {name: found[name] for name in JOB_LOG if name in found}
    if is_new:
        return counts
    return {name: TableCounts(c.rows, 0, c.rejected, c.rows - c.rejected, 0, 0) for name, c in counts.items()}


def rejects_of(build: Path, batch: str | None = None) -> tuple[Reject, ...]:
    """Rejects of one batch, or of the whole book, in the order of files and lines."""
    return tuple(Reject(**row) for row in read_records(build, _REJECTS, batch=batch))


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
