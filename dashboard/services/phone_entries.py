"""Entries that a phone kept until it could send them: each is checked by itself, saved once, and answered for.

START HERE: `read_sent` (what was sent, as data) → `take`. A phone gives times by its own clock; what counts is how
long before it sent them they were made, so a clock that goes wrong by the same amount all day moves nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, cast

from dashboard.services import on_site
from pipeline.contract.findings import BadInput, BookError

if TYPE_CHECKING:
    from pipeline.on_site.entries import Kind
    from pipeline.on_site.open_job import SiteJob
    from pipeline.store.book import Book

KINDS = ("catch", "reading", "focus", "undo")
"""What a phone may enter; the rest is done on the dashboard."""
MOST_ENTRIES = 200
"""In one letter; a phone sends fewer at a time."""
_ID = re.compile(r"[A-Za-z0-9_-]{8,64}")
_DEVICE = re.compile(r"[A-Za-z0-9_-]{0,40}")
_MS_PER_MINUTE = 60_000.0
_LATEST_MS = 253_000_000_000_000
"""A day in the year 9987: beyond it a clock is no clock."""
_LARGEST = 1e12
"""No mass, reading or number of a radiator comes near it."""

State = Literal["saved", "refused", "kept"]


@dataclass(frozen=True, slots=True)
class SentEntry:
    """One entry as sent: its own id, job, kind, facts, and when it was made [ms since 1970, the phone's clock].
    `fault` says what is wrong with its form; empty where nothing is."""

    id: str
    job: str = ""
    kind: str = ""
    of: Mapping[str, Any] | None = None
    at_ms: float = 0.0
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Sent:
    """What a phone sent: which device, its clock at that moment [ms since 1970], and the entries in order."""

    device: str
    clock_ms: float
    entries: tuple[SentEntry, ...]


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one entry: `saved` (on disk), `refused` (never will be, as it stands), or `kept` (could not be
    saved now: the phone holds on to it). `sentence` says why not, empty where it is saved."""

    id: str
    state: State
    sentence: str = ""
    saved_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """One `Taken` an entry, in the order sent; how far the phone's clock is ahead [s], and a sentence where it
    differs by more than two minutes."""

    results: tuple[Taken, ...]
    clock_ahead_s: float
    clock_sentence: str


def read_sent(values: Any) -> Sent:
    """What a phone sent, as data. BadInput where the letter has no such form; a fault of one entry stays with it."""
    if not isinstance(values, dict) or not isinstance(values.get("entries"), list):
        raise BadInput("Nothing was saved: a list of entries is missing.")
    device, clock, entries = values.get("device", ""), values.get("clock_ms"), values["entries"]
    if not isinstance(device, str) or not _DEVICE.fullmatch(device):
        raise BadInput("Nothing was saved: the id of the phone must be at most 40 plain letters and digits.")
    if not _is_moment(clock):
        raise BadInput("Nothing was saved: the clock of the phone is missing.")
    if len(entries) > MOST_ENTRIES:
        raise BadInput(f"Nothing was saved: {len(entries)} entries at a time, there may be {MOST_ENTRIES}.")
    return Sent(device, float(cast("float", clock)), tuple(_entry(each) for each in entries))


def _entry(values: Any) -> SentEntry:
    if not isinstance(values, dict):
        return SentEntry("", fault="it has no form")
    found, job, kind, of = (values.get(name) for name in ("id", "job", "kind", "of"))
    if not isinstance(found, str) or not _ID.fullmatch(found):
        return SentEntry(found[:64] if isinstance(found, str) else "", fault="its id is missing or strange")
    if not isinstance(job, str) or not job.strip():
        return SentEntry(found, fault="the job is missing")
    if kind not in KINDS:
        return SentEntry(found, fault="it is of a kind that is entered on the dashboard")
    if not isinstance(of, dict) or not all(map(_is_plain, of.values())):
        return SentEntry(found, fault="there is nothing in it that can be kept")
    if not _is_moment(values.get("at_ms")):
        return SentEntry(found, fault="its time is missing")
    return SentEntry(found, job, str(kind), of, float(values["at_ms"]))


def _is_plain(value: Any) -> bool:
    """Whether a value is a word, yes or no, nothing, or a number of a size that something is weighed in."""
    return value is None or isinstance(value, str) or (isinstance(value, int | float) and abs(value) < _LARGEST)


def _is_moment(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= _LATEST_MS


def take(book: Book, sent: Sent, now: Callable[[], datetime] = datetime.now) -> Answer:
    """Save the entries in their order, each on disk before it is called saved; what was sent before is not written
    again. A refused one stops no other; after one that could not be saved, later ones of its job wait with it."""
    from pipeline.on_site.entries import Sender

    received = now()
    told = datetime.fromtimestamp(sent.clock_ms / 1000.0)
    results: list[Taken] = []
    waiting: set[str] = set()
    for entry in sent.entries:
        if entry.job in waiting:
            results.append(Taken(entry.id, "kept", "It waits for an earlier entry of its job."))
            continue
        results.append(_take_one(book, entry, Sender(entry.id, sent.device, told), sent.clock_ms))
        if results[-1].state == "kept":
            waiting.add(entry.job)
    ahead = (told - received).total_seconds()
    return Answer(tuple(results), ahead, _clock_sentence(ahead))


def _take_one(book: Book, entry: SentEntry, sender: Any, clock_ms: float) -> Taken:
    """The time since it was made is that of the phone; one that lies ahead of the phone's own clock is now."""
    from pipeline.on_site.open_job import read_site_job

    try:
        if entry.fault:
            raise BadInput(f"Not saved: {entry.fault}.")
        job = read_site_job(book, entry.job)
        standing = next((event for event in job.events if event.entry_id == entry.id), None)
        if standing is None:
            _check(job, entry)
            ago = max(0.0, (clock_ms - entry.at_ms) / _MS_PER_MINUTE)
            kind = cast("Kind", entry.kind)
            standing = on_site.save(book, entry.job, kind, entry.of or {}, sender, ago_min=ago)
        return Taken(entry.id, "saved", saved_at=standing.saved_at)
    except BookError as problem:
        return Taken(entry.id, "kept", problem.sentence)
    except BadInput as problem:
        return Taken(entry.id, "refused", problem.sentence)


def _check(job: SiteJob, entry: SentEntry) -> None:
    """BadInput where the job is not open, or there is nothing to take back."""
    from pipeline.on_site.open_job import may_be_taken_back

    if job.start is None:
        raise BadInput(f"Not saved: no job called {entry.job} was begun. Begin it on the dashboard.")
    if job.finish is not None:
        raise BadInput(f"Not saved: {job.name} is finished. Open it again on the dashboard to change it.")
    if entry.kind == "undo":
        undoes = (entry.of or {}).get("undoes")
        found = next((event for event in job.events if event.entry_id == undoes), None)
        if found is None or set(entry.of or {}) != {"undoes"}:
            raise BadInput("Not taken back: that entry is not in this job.")
        if not may_be_taken_back(found):
            raise BadInput("Not taken back: it was taken back before, or it cannot be.")


def _clock_sentence(ahead_s: float) -> str:
    from pipeline.on_site.open_job import CLOCK_TOLERANCE_S

    if abs(ahead_s) <= CLOCK_TOLERANCE_S:
        return ""
    way = "ahead" if ahead_s > 0 else "behind"
    return (
        f"This phone's clock is {round(abs(ahead_s) / 60)} min {way}; entries are timed by the computer that keeps "
        "the book, so nothing is lost by it."
    )
