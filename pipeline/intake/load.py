"""Load: received → checked → built, in one call, with an account of every row."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.checks.batch_sources import MAPPING_FILE, FileContents, file_contents
from pipeline.checks.check_rows import heading_findings
from pipeline.contract.findings import BadInput, BookError, Finding
from pipeline.contract.whole_files import write_whole
from pipeline.intake.going_back import replaced_since
from pipeline.intake.load_notes import load_notes
from pipeline.intake.load_report import LoadReport, batch_notes, by_table, file_counts, rejects_of
from pipeline.intake.set_aside import check_or_set_aside, every_set_aside, is_failure, is_settled, set_aside, try_again
from pipeline.intake.undone import undone
from pipeline.intake.write_faults import writing
from pipeline.mapping.confirmed_mapping import Mapping
from pipeline.mapping.mapping_file import read_mapping
from pipeline.renew import build_book
from pipeline.store.book import Book, open_build
from pipeline.store.pruning import make_room, prune_builds, refuse_if_short, room_for_a_build, sweep
from pipeline.store.received import (
    Batch,
    Staged,
    StagedFile,
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


def load(
    paths: list[Path],
    book: Book,
    progress: Progress | None = None,
    *,
    mapping_file: Path | None = None,
    unless_since: datetime | None = None,
) -> LoadReport:
    """Hand files or folders in to the book; nothing is received when one of them cannot be read at all.

    `mapping_file` says how a firm's own headings become the job log; it is kept in the book and serves
    later loads by itself. Files that are in the book already are received again where later loads replaced
    rows of them; not so where they were received after `unless_since`: the decision to hand them in was then carried
    out already.
    """
    started = time.perf_counter()
    book.refuse_pool()
    sources, findings = find_sources(paths)
    mapping, mapping_text = _mapping(book, mapping_file)
    book.create()
    with book_lock(book), writing(book):
        sweep(book)
        refuse_if_short(book, sum(source.path.stat().st_size for source in sources))
        staged = stage(book, sources)
        try:
            staged, contents = examined(staged, mapping, mapping_text, paths)
            tables = tables_of(contents)
            before = _published(book)
            receipt = _received(book, staged, tables, progress, unless_since=unless_since)
            if mapping_file is not None:
                write_whole(book.path / MAPPING_FILE, mapping_text)
            build, batch = rebuild(book, progress), receipt.batch.batch_id
            notes = [note for each in contents.values() for note in (*each.findings, *_source_notes(each))]
            with open_build(build):  # held open, because opening a build costs more than any question asked of it
                found = (*findings, *receipt.findings, *_book_notes(book, before, build, receipt), *notes)
                found = (*found, *batch_notes(build, batch), *load_notes(build, batch))
                files = file_counts(build, batch, is_new=receipt.is_new)
                rejects = rejects_of(build, batch)
            prune_builds(book)
        finally:
            discard(staged.folder)
    seconds = round(time.perf_counter() - started, 3)
    return LoadReport(batch, build.stem, receipt.is_new, by_table(files), files, rejects, found, seconds)


@dataclass(frozen=True, slots=True)
class _Receipt:
    """The batch that the files are, whether anything is new by them, and what is to be said of that."""

    batch: Batch
    is_new: bool
    findings: tuple[Finding, ...] = ()


def _received(
    book: Book,
    staged: Staged,
    tables: dict[str, tuple[str, ...]],
    progress: Progress | None,
    *,
    unless_since: datetime | None,
) -> _Receipt:
    """Receive the staged files, unless they are in the book already and would change nothing."""
    content, today = batch_id(staged, tables), datetime.now()
    receipts = [batch for batch in batches(book) if batch.content == content]
    if not receipts:
        return _Receipt(receive(book, staged, tables, today), is_new=True)
    newest = receipts[-1]
    was_aside = set_aside(book, newest) is not None
    if was_aside:
        try_again(book, newest)
    rebuild(book, progress)  # what stands must be as received: a load may have been stopped on its way here
    is_aside = set_aside(book, newest) is not None
    is_done = unless_since is not None and newest.received_at > unless_since
    if not is_done and not is_aside:
        replaced = replaced_since(book, newest, batches(book), today.date())
        if replaced.rows or replaced.rows_due:
            return _Receipt(receive(book, staged, tables, today), is_new=True, findings=(replaced.as_finding(),))
    return _Receipt(newest, is_new=was_aside and not is_aside)


def _published(book: Book) -> Path | None:
    """The build before this load; None for a book without one."""
    try:
        return book.current()
    except BookError:
        return None


def _book_notes(book: Book, before: Path | None, build: Path, receipt: _Receipt) -> tuple[Finding, ...]:
    """What is set aside, and what this load undid of earlier ones."""
    aside = tuple(each.as_finding() for each in every_set_aside(book))
    return (*aside, *(undone(before, build, receipt.batch.number) if receipt.is_new else ()))


def _mapping(book: Book, mapping_file: Path | None) -> tuple[Mapping | None, bytes]:
    """The mapping named, else the one kept in the book, else none; and its text."""
    path = mapping_file or book.path / MAPPING_FILE
    if mapping_file is None and not (book.exists() and path.is_file()):
        return None, b""
    mapping = read_mapping(path)
    return mapping, path.read_bytes()


def examined(
    staged: Staged, mapping: Mapping | None, mapping_text: bytes, paths: list[Path]
) -> tuple[Staged, dict[str, FileContents]]:
    """The staged files that hold a table, and what they hold by stored name; the mapping beside them if used."""
    contents = {f.path.name: _contents(f, mapping) for f in staged.files}
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


def _contents(file: StagedFile, mapping: Mapping | None) -> FileContents:
    """What one staged file holds; BadInput also where a library breaks down on it instead of refusing it."""
    try:
        return file_contents(file.path, file.source.name, mapping)
    except Exception:
        raise
    except BaseException as error:
        if not is_failure(error):
            raise
        first = (str(error).strip().splitlines() or [""])[0]
        raise BadInput(f"{file.source.name} cannot be read: the program failed on it ({first}).") from error


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
    """Check every batch that is not checked by these rules, build, publish. The caller holds the lock.

    A batch that cannot be checked is set aside and stops none of the others.
    """
    everything = batches(book)
    if not everything:
        raise BookError(f"The book {book.path} holds no jobs yet; load a folder of job logs first.")
    make_room(book, room_for_a_build(book))
    for batch in everything:
        if not is_settled(book, batch):
            check_or_set_aside(book, batch)
    return build_book(book, [batch.batch_id for batch in everything], progress)
