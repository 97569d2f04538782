"""The journal of a job in progress: entries made on site, one JSON line each, on disk before it is said so.

Append-only. A process that is killed while it writes leaves at most one torn last line; the entries
before it are whole, and the next entry begins on a line of its own.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import string
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.contract.findings import BadInput, BookError
from pipeline.contract.plain_names import is_reserved
from pipeline.contract.whole_files import sync_folder
from pipeline.store.book import Book
from pipeline.store.tally import ENDING, is_cut, read_tally, write_tally

FOLDER = "on_site"
MAX_ENTRY_BYTES = 64_000
MAX_NAME = 180
LOCK_SECONDS = 10.0
_BREAK = b"\n"
_PLAIN = frozenset(f"{string.ascii_letters}{string.digits}-_ ".encode())
_SMALL = frozenset(f"{string.digits}-_".encode())
"""Letters of names that differ from one another on every system: no letter stands as it is."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: its line in the journal, when it was saved (local time), what was entered."""

    line: int
    saved_at: datetime
    values: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class TornLine:
    """A line that is no whole entry: its line and the bytes that are there, as text."""

    line: int
    text: str


@dataclass(frozen=True, slots=True)
class Journal:
    """All entries of a job in the order saved, and the lines that were torn.

    `is_cut` says that something which was saved is missing or changed since.
    """

    entries: tuple[Entry, ...]
    torn: tuple[TornLine, ...]
    is_cut: bool


def journal_path(book: Book, job: str) -> Path:
    """Where the journal of `JOB` or `FIRM/JOB` lies: one file in `on_site`, whatever the name contains."""
    if not job.strip():
        raise BadInput("Name the job that the entry belongs to.")
    try:
        name = _encoded(job, _PLAIN)
    except UnicodeEncodeError as error:
        raise BadInput("The name of the job is no text.") from error
    folder = book.path / FOLDER
    if _is_refused_by_windows(name) or _stands_in_other_letters(folder, name):
        name = name if (folder / f"{name}.jsonl").name in _names(folder) else _encoded(job, _SMALL)
    if len(name) > MAX_NAME:
        name = f"{name[:MAX_NAME]}~{hashlib.sha256(job.encode()).hexdigest()[:16]}"
    return folder / f"{name}.jsonl"


def _encoded(job: str, plain: frozenset[int]) -> str:
    return "".join(chr(byte) if byte in plain else f"%{byte:02X}" for byte in job.encode())


def _is_refused_by_windows(name: str) -> bool:
    """Whether Windows keeps the name for a device, such as CON, or would take a space from its end."""
    return is_reserved(name) or name != name.strip(" ")


def _stands_in_other_letters(folder: Path, name: str) -> bool:
    """Whether a journal is there whose name differs in capitals alone: for Windows and macOS that is the same file."""
    file = f"{name}.jsonl"
    return any(each != file and each.casefold() == file.casefold() for each in _names(folder))


def _names(folder: Path) -> frozenset[str]:
    try:
        return frozenset(os.listdir(folder))
    except FileNotFoundError:
        return frozenset()
    except OSError as error:
        raise BookError(f"The journals in {folder} cannot be read: {error.strerror or error}.") from error


def journals(book: Book) -> tuple[Path, ...]:
    """The journals of a book, by name."""
    return tuple(sorted(path for path in (book.path / FOLDER).glob("*.jsonl") if path.is_file()))


def lost_journals(folder: Path) -> tuple[Path, ...]:
    """Journals of a folder whose tally stands there alone, by name."""
    found = (path.with_suffix(".jsonl") for path in folder.glob(f"[!.]*{ENDING}"))
    return tuple(sorted(path for path in found if not path.is_file()))


def shown_name(path: Path) -> str:
    """The job a journal belongs to, as far as its file name tells."""
    raw = re.sub(rb"%([0-9A-F]{2})", lambda found: bytes([int(found[1], 16)]), path.stem.encode())
    return raw.decode(errors="replace")


def append(
    book: Book, job: str, values: Mapping[str, object], at: datetime | None = None, *, is_first: bool = False
) -> Entry:
    """Save one entry: written and flushed to disk before this returns.

    An entry whose `id` is in the journal already is not written again: the one that stands is returned, so that
    what is sent twice is stored once. `is_first` says that the entry begins the journal. BadInput when the values
    are no plain data or too many, or a journal stands where none should; BookError when the disk cannot take them:
    then nothing of the entry stays.
    """
    path = journal_path(book, job)
    book.create()
    return append_to(path, job, values, at, is_first=is_first)


def append_to(
    path: Path, what: str, values: Mapping[str, object], at: datetime | None = None, *, is_first: bool = False
) -> Entry:
    """The same for a journal file in a folder of its own in the book; `what` names it where it cannot be saved."""
    saved_at = (at or datetime.now()).replace(microsecond=0)
    line = _line(saved_at, values)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(path.with_name(f".{path.name}.lock"), timeout=LOCK_SECONDS):
            if (standing := _standing(path, values.get("id"), is_first=is_first)) is not None:
                return standing
            number = _write(path, line)
    except Timeout as error:
        raise BookError(f"The journal of {what} is held by another program; nothing was saved, try again.") from error
    except OSError as error:
        raise BookError(f"The entry for {what} could not be saved: {error.strerror or error}.") from error
    return Entry(number, saved_at, dict(values))


def _standing(path: Path, entry_id: object, *, is_first: bool) -> Entry | None:
    """The entry of that id, if it is there already; BadInput for a journal that should not be there yet."""
    if entry_id is None and not is_first:
        return None
    entries = read_journal_file(path).entries
    found = next((entry for entry in entries if entry_id is not None and entry.values.get("id") == entry_id), None)
    if found is None and entries and is_first:
        raise BadInput(f"A job called {shown_name(path)} has been started already; open that one or take another name.")
    return found


def _line(saved_at: datetime, values: Mapping[str, object]) -> bytes:
    record = {"saved_at": saved_at.isoformat(), "values": dict(values)}
    try:
        line = json.dumps(record, ensure_ascii=True, allow_nan=False).encode()
    except (TypeError, ValueError, RecursionError) as error:
        raise BadInput(f"The entry is no plain data: {error}.") from error
    if len(line) > MAX_ENTRY_BYTES:
        raise BadInput(f"The entry has {len(line):,} bytes; one entry may have at most {MAX_ENTRY_BYTES:,}.")
    return line + _BREAK


def _write(path: Path, line: bytes) -> int:
    """Add a line; a torn line before it is closed first. The number of the new line."""
    with path.open("ab+", buffering=0) as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(0)
        before = file.read(size)
        is_torn = bool(before) and not before.endswith(_BREAK)
        data = (_BREAK if is_torn else b"") + line
        was_lost = is_cut(before, read_tally(path))
        try:
            if file.write(data) != len(data):
                raise OSError("the disk took only a part of it")
            os.fsync(file.fileno())
            write_tally(path, before + data, was_lost=was_lost)
        except OSError:
            os.ftruncate(file.fileno(), size)
            raise
    if not size:
        sync_folder(path.parent)
        sync_folder(path.parent.parent)
    return before.count(_BREAK) + is_torn + 1


def read_journal(book: Book, job: str) -> Journal:
    """Every whole entry of a job in the order saved; torn lines are tolerated and reported."""
    return read_journal_file(journal_path(book, job))


def read_journal_file(path: Path) -> Journal:
    """The same, of a journal's file; an absent file is an empty journal."""
    tally = read_tally(path)  # before the journal: an entry that is saved meanwhile is then only not yet counted
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Journal((), (), is_cut(b"", tally))
    except OSError as error:
        raise BookError(f"The journal {path} cannot be read: {error.strerror or error}.") from error
    entries: list[Entry] = []
    torn: list[TornLine] = []
    for number, raw in enumerate(data.split(_BREAK), start=1):
        entry = _entry(number, raw)
        if entry is not None:  # also the last line without its end: all of the entry is there
            entries.append(entry)
        elif raw:
            torn.append(TornLine(number, raw[:500].decode("utf-8", errors="replace")))
    return Journal(tuple(entries), tuple(torn), is_cut(data, tally))


def _entry(number: int, raw: bytes) -> Entry | None:
    try:
        record = json.loads(raw)
        values = record["values"]
        return Entry(number, datetime.fromisoformat(record["saved_at"]), values) if isinstance(values, dict) else None
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
