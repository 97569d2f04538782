"""Load: received → checked → built, in one call, with an account of every row."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.checks.batch_sources import MAPPING_FILE, FileContents, file_contents
from pipeline.checks.check_batch import check_batch, is_checked
from pipeline.checks.check_rows import heading_findings
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BookError, Finding
from pipeline.intake.load_notes import load_notes
from pipeline.intake.write_faults import writing
from pipeline.mapping.confirmed_mapping import Mapping
from pipeline.mapping.mapping_file import read_mapping
from pipeline.privacy.private_text import WITHOUT
from pipeline.renew import build_book
from pipeline.store.book import Book, read_records, write_whole
from pipeline.store.pruning import prune_builds, sweep
from pipeline.store.received import (
    Staged,
    add_file,
    batch_id,
    batches,
    discard,
    find_sources,
    nothing_found,
    receive,
    stage,
)

LOCK_SECONDS = 300.0

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
    """The account of one load. `is_new` is false when the same files were in the book already."""

    batch: str
    build: str
    is_new: bool
    tables: dict[str, TableCounts]
    files: tuple[FileCounts, ...]
    rejects: tuple[Reject, ...]
    findings: tuple[Finding, ...]
    seconds: float


def load(
    paths: list[Path], book: Book, progress: Progress | None = None, *, mapping_file: Path | None = None
) -> LoadReport:
    """Hand files or folders in to the book; nothing is received when one of them cannot be read at all.

    `mapping_file` says how a firm's own headings become the job log; it is kept in the book and serves
    later loads by itself.
    """
    started = time.perf_counter()
    sources, findings = find_sources(paths)
    mapping, mapping_text = _mapping(book, mapping_file)
    book.create()
    with book_lock(book), writing(book):
        sweep(book)
        staged = stage(book, sources)
        try:
            staged, contents = examined(staged, mapping, mapping_text, paths)
            tables = tables_of(contents)
            batch = batch_id(staged, tables)
            is_new = not (book.received / batch).exists()
            if is_new:
                receive(book, staged, tables, datetime.now())
            if mapping_file is not None:
                write_whole(book.path / MAPPING_FILE, mapping_text)
            build = rebuild(book, progress)
            prune_builds(book)
        finally:
            discard(staged.folder)
    notes = [note for each in contents.values() for note in (*each.findings, *_source_notes(each))]
    found = (*findings, *notes, *_waiting_notes(build, batch), *_private_notes(build, batch), *load_notes(build, batch))
    seconds = round(time.perf_counter() - started, 3)
    files = file_counts(build, batch, is_new=is_new)
    return LoadReport(batch, build.stem, is_new, _by_table(files), files, rejects_of(build, batch), found, seconds)


def _mapping(book: Book, mapping_file: Path | None) -> tuple[Mapping | None, bytes]:
    """The mapping named, else the one kept in the book, else none; and its text."""
    path = mapping_file or book.path / MAPPING_FILE
    if mapping_file is None and not path.is_file():
        return None, b""
    mapping = read_mapping(path)
    return mapping, path.read_bytes()


def examined(
    staged: Staged, mapping: Mapping | None, mapping_text: bytes, paths: list[Path]
) -> tuple[Staged, dict[str, FileContents]]:
    """The staged files that hold a table, and what they hold by stored name; the mapping beside them if used."""
    contents = {f.path.name: file_contents(f.path, f.source.name, mapping) for f in staged.files}
    if not any(each.sources for each in contents.values()):
        raise nothing_found(paths)
    for each in contents.values():
        for source in each.sources:
            heading_findings(source.table.name, source.file, source.headings)
    empty = [name for name, each in contents.items() if not each.sources]
    for name in empty:
        (staged.folder / name).unlink()
    staged = Staged(staged.folder, tuple(f for f in staged.files if f.path.name not in empty))
    if any(each.used_mapping for each in contents.values()):
        staged = add_file(staged, MAPPING_FILE, mapping_text)
        contents[MAPPING_FILE] = FileContents((), used_mapping=True, findings=())
    return staged, contents


def tables_of(contents: dict[str, FileContents]) -> dict[str, tuple[str, ...]]:
    """Names of the job-log tables in each file, by stored name."""
    return {name: tuple(dict.fromkeys(s.table.name for s in each.sources)) for name, each in contents.items()}


def _source_notes(contents: FileContents) -> tuple[Finding, ...]:
    return tuple(
        note
        for source in contents.sources
        for note in (*source.findings, *heading_findings(source.table.name, source.file, source.headings))
    )


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
        if not is_checked(book, batch):
            check_batch(book, batch)
    return build_book(book, [batch.batch_id for batch in everything], progress)


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


def _by_table(files: tuple[FileCounts, ...]) -> dict[str, TableCounts]:
    every = {name: [astuple(each.counts) for each in files if each.table == name] for name in JOB_LOG}
    return {name: TableCounts(*map(sum, zip(*rows, strict=True))) for name, rows in every.items() if rows}


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


_PRIVATE = "select count(*)::bigint as n from row_warnings where batch_id = $batch and starts_with(reason, $words)"


def _private_notes(build: Path, batch: str) -> tuple[Finding, ...]:
    cells = read_records(build, _PRIVATE, batch=batch, words=WITHOUT)[0]["n"]
    if not cells:
        return ()
    sentence = "1 cell held a private detail and was loaded without it; the received file keeps it."
    if cells > 1:
        sentence = f"{cells} cells held private details and were loaded without them; the received files keep them."
    return (Finding("private_left_out", sentence, {"cells": cells}),)
