"""Quotes that were kept: what was asked, what was forecast and at which price, and what became of the offer.

One journal file a quote, append-only: its first entry is the quote, each later one says what became of it.
Nothing is said to be kept before it is on disk; a torn last line is left aside, as on site. They are read from
their own files and not built: a quote must be seen at once, and a build is named by what was received.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal, get_args

from filelock import FileLock, Timeout

from pipeline.contract.controls import REASON, has_controls
from pipeline.contract.findings import BadInput, BookError
from pipeline.privacy.private_text import private_fields
from pipeline.store.book import Book
from pipeline.store.journal import LOCK_SECONDS, Entry, append_to, lost_journals, read_journal_file

FOLDER = "quotes"
Status = Literal["offered", "won", "lost", "withdrawn"]
STATUSES: tuple[Status, ...] = get_args(Status)


@dataclass(frozen=True, slots=True)
class KeptQuote:
    """One kept quote. `answer` is the quote as the `quote` command prints it, `asked` its rows of the job log by
    table; `job` is the job it was done as: its own firm and job id unless a person named another."""

    quote_id: str
    kept_at: datetime
    valid_until: date
    model: str
    asked: Mapping[str, list[dict[str, Any]]]
    answer: Mapping[str, Any]
    status: Status
    status_at: datetime
    job: tuple[str, str]

    @property
    def price(self) -> float:
        """Price before tax."""
        return float(self.answer["price"]["price"])

    @property
    def currency(self) -> str:
        """Currency of the price."""
        return str(self.answer["price"]["currency"])


def keep_quote(
    book: Book,
    answer: Mapping[str, Any],
    asked: Mapping[str, list[dict[str, Any]]],
    *,
    model: str,
    valid_until: date,
    at: datetime | None = None,
) -> str:
    """Keep a quote; its id, such as `Q00012`. On disk before this returns; BookError when it cannot be.

    `model` names the models folder it came from.
    """
    folder = book.path / FOLDER
    if has_controls(str(answer.get("job_id", ""))):
        raise BadInput(f"Nothing was kept: the name of the job {REASON}.")
    if of_people := private_fields({"job_id": answer.get("job_id"), **asked}):
        raise BadInput(f"Nothing was kept: the book keeps no people, and this looks like one ({', '.join(of_people)}).")
    book.create()
    values = {"valid_until": valid_until.isoformat(), "model": model, "asked": _plain(asked), "answer": dict(answer)}
    try:
        folder.mkdir(exist_ok=True)
        with FileLock(folder / ".lock", timeout=LOCK_SECONDS):
            number = 1 + max((int(path.stem[1:]) for path in (*_files(book), *lost_quotes(book))), default=0)
            name = f"Q{number:05d}"
            append_to(folder / f"{name}.jsonl", f"quote {name}", values, at)
    except Timeout as error:
        raise BookError("Another program is keeping a quote; nothing was kept, try again.") from error
    except OSError as error:
        raise BookError(f"The quote could not be kept: {error.strerror or error}.") from error
    return name


def say_what_became(
    book: Book, quote_id: str, status: str, job: tuple[str, str] | None = None, at: datetime | None = None
) -> KeptQuote:
    """Note what became of a kept quote, and as which (firm, job) it was done. BadInput for an unknown id or word."""
    if status not in STATUSES:
        raise BadInput(f"{status!r} is no state of a quote: {', '.join(STATUSES)}.")
    path = book.path / FOLDER / f"{quote_id}.jsonl"
    if path not in _files(book):
        raise BadInput(f"There is no quote {quote_id!r} in the book; `sludgebook quotes` lists them.")
    values: dict[str, object] = {"status": status}
    if job is not None:
        values["job"] = list(job)
    if _read(path) is None:
        raise BookError(f"The kept quote {path.name} cannot be read as a quote; restore it from a backup.")
    append_to(path, f"quote {quote_id}", values, at)
    found = _read(path)
    assert found is not None
    return found


def kept_quotes(book: Book) -> tuple[KeptQuote, ...]:
    """Every kept quote, in the order kept. One whose first entry was torn while it was written was never kept."""
    return tuple(found for path in _files(book) if (found := _read(path)) is not None)


def damaged_quotes(book: Book) -> tuple[str, ...]:
    """Files of quotes that lack something that was kept, or hold whole entries but none that is a quote."""
    return tuple(path.name for path in _files(book) if _is_damaged(path))


def _is_damaged(path: Path) -> bool:
    found = read_journal_file(path)
    return found.is_cut or (bool(found.entries) and _read(path) is None)


def torn_quotes(book: Book) -> tuple[str, ...]:
    """Files without one whole entry: quotes that were never said to be kept, or kept by a version without a tally and
    cut since, which cannot be told apart."""
    return tuple(path.name for path in _files(book) if not _is_damaged(path) and not read_journal_file(path).entries)


def lost_quotes(book: Book) -> tuple[Path, ...]:
    """Files of quotes that are gone: their numbers, which follow one another, or their tallies still tell of them."""
    folder = book.path / FOLDER
    there = {int(path.stem[1:]) for path in _files(book)}
    told = {int(path.stem[1:]) for path in lost_journals(folder) if path.stem[1:].isdigit()}
    gone = (set(range(1, max(there | told, default=0))) | told) - there
    return tuple(folder / f"Q{number:05d}.jsonl" for number in sorted(gone))


def _files(book: Book) -> list[Path]:
    found = (book.path / FOLDER).glob("Q*.jsonl")
    return sorted((path for path in found if path.stem[1:].isdigit()), key=lambda path: int(path.stem[1:]))


def _read(path: Path) -> KeptQuote | None:
    """The quote of a journal; None where its first entry is none: without a job, a price, or until when it holds."""
    entries = read_journal_file(path).entries
    if not entries:
        return None
    try:
        return _quote(path.stem, entries)
    except (KeyError, TypeError, ValueError):
        return None


def _quote(name: str, entries: Sequence[Entry]) -> KeptQuote:
    first, values = entries[0], entries[0].values
    answer: Any = values["answer"]
    job = (str(answer["firm_id"]), str(answer["job_id"]))
    status, status_at = STATUSES[0], first.saved_at
    for entry in entries[1:]:
        said: Any = entry.values
        if said.get("status") in STATUSES:
            status, status_at = said["status"], entry.saved_at
        if isinstance(said.get("job"), list) and len(said["job"]) == 2:
            job = (str(said["job"][0]), str(said["job"][1]))
    asked: Any = values["asked"]
    until = date.fromisoformat(str(values["valid_until"]))
    found = KeptQuote(name, first.saved_at, until, str(values["model"]), asked, answer, status, status_at, job)
    if not (isinstance(asked, dict) and found.currency and math.isfinite(found.price)):
        raise ValueError("no quote")
    return found


def _plain(asked: Mapping[str, list[dict[str, Any]]]) -> dict[str, Any]:
    """Rows with dates as text."""
    plain: dict[str, Any] = json.loads(json.dumps(dict(asked), default=str))
    return plain
