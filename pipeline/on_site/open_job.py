"""The job in progress as its journal tells it: what counts, what was taken back, where the flow is, what to know.

The journal is never changed: an entry is taken back by another entry. The order is that of the lines; the time
of an entry is that of the computer that keeps the book, which never runs backwards here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from pipeline.contract.findings import Finding
from pipeline.store.book import Book
from pipeline.store.journal import Journal, journals, read_journal, read_journal_file, shown_name

CLOCK_TOLERANCE_S = 120.0
"""A phone whose clock differs by more is told of: less is the time that an entry takes to arrive."""
_NOT_TAKEN_BACK = ("start", "finish", "reopen", "received", "undo")


@dataclass(frozen=True, slots=True)
class SiteEvent:
    """One entry as it counts: its line and id, kind, when it happened and was saved, from which device, what it
    says, and whether it was taken back."""

    line: int
    entry_id: str
    kind: str
    at: datetime
    saved_at: datetime
    device: str
    of: Mapping[str, Any]
    is_undone: bool = False


@dataclass(frozen=True)
class SiteJob:
    """A job as its journal tells it. `events` holds every entry in order, those taken back included."""

    name: str
    events: tuple[SiteEvent, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def lines(self) -> int:
        """Line of the newest entry, 0 for none: changes whenever anything was entered."""
        return self.events[-1].line if self.events else 0

    @cached_property
    def start(self) -> SiteEvent | None:
        """The entry that began the job."""
        return next((event for event in self.events if event.kind == "start"), None)

    @property
    def started_at(self) -> datetime | None:
        """When the flow began; as it was finished, where that corrects it."""
        if self.start is None:
            return None
        corrected = self.finish.of.get("flush_started_at") if self.finish else None
        moved = self.all_of("start_moved")
        told = moved[-1].of["flush_started_at"] if moved else self.start.of["flush_started_at"]
        return datetime.fromisoformat(str(corrected or told))

    @property
    def quote_id(self) -> str:
        """The kept quote that the job was begun from; empty for none."""
        return str(self.start.of.get("quote_id") or "") if self.start else ""

    @property
    def engineer_id(self) -> str:
        """Who leads; empty where nobody said."""
        return str((self.start.of.get("job") or {}).get("engineer_id") or "") if self.start else ""

    @property
    def arrived_at(self) -> str:
        """When the crew arrived, as ISO text; empty where nobody said."""
        begun = (self.start.of.get("job") or {}) if self.start else {}
        return str((self.finish.of.get("arrived_at") if self.finish else None) or begun.get("arrived_at") or "")

    def all_of(self, kind: str) -> tuple[SiteEvent, ...]:
        """The entries of one kind that count, in order."""
        return tuple(event for event in self.events if event.kind == kind and not event.is_undone)

    @property
    def finish(self) -> SiteEvent | None:
        """The entry that finished the job, unless it was opened again since."""
        last = next((e for e in reversed(self.events) if e.kind in ("finish", "reopen")), None)
        return last if last is not None and last.kind == "finish" else None

    @property
    def received(self) -> SiteEvent | None:
        """The note that the job, as last finished, is in the book; None while it is not."""
        done = self.finish
        notes = [event for event in self.events if event.kind == "received"]
        return next((note for note in notes if done and note.of.get("finish") == done.entry_id), None)

    @property
    def focus(self) -> int | None:
        """The emitter that has the flow now; None: the whole system."""
        last = self.all_of("focus")
        return last[-1].of.get("focus_emitter_no") if last else None

    @property
    def emitters(self) -> tuple[Mapping[str, Any], ...]:
        """The emitters in their order: as last walked and named on site, else as surveyed."""
        if self.start is None:
            return ()
        walked = self.all_of("emitters")
        return tuple((walked[-1] if walked else self.start).of.get("emitters") or ())

    def room(self, emitter_no: int | None) -> str:
        """The room of an emitter; empty where nobody named it."""
        found = (row.get("room") for row in self.emitters if row.get("emitter_no") == emitter_no)
        return str(next(found, None) or "")

    @property
    def emitter_numbers(self) -> tuple[int, ...]:
        """Emitters in their order, then others that had the flow."""
        named = [int(row["emitter_no"]) for row in self.emitters]
        had_flow = {e.of["focus_emitter_no"] for e in self.events if e.of.get("focus_emitter_no")}
        return (*named, *sorted(had_flow - set(named)))

    @property
    def last_to_take_back(self) -> SiteEvent | None:
        """The newest entry that counts and may be taken back."""
        return next((event for event in reversed(self.events) if may_be_taken_back(event)), None)


def may_be_taken_back(event: SiteEvent) -> bool:
    """Whether an entry counts and is of a kind that an undo can take back."""
    return not event.is_undone and event.kind not in _NOT_TAKEN_BACK


def read_site_job(book: Book, name: str) -> SiteJob:
    """The job of that name from its journal; one without entries when there is no journal."""
    return site_job(name, read_journal(book, name))


def site_jobs(book: Book) -> tuple[SiteJob, ...]:
    """Every job with a journal, the one entered into last first."""
    found = [
        site_job(shown_name(path), read_journal_file(path))
        for path in sorted(journals(book), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    ]
    return tuple(job for job in found if job.start is not None)


def site_job(name: str, journal: Journal) -> SiteJob:
    """What a journal tells. A line that is no entry of a job on site is left aside and noted."""
    events: list[SiteEvent] = []
    strange = [line.line for line in journal.torn]
    seen: set[str] = set()
    clocks: dict[str, float] = {}
    went_back = 0
    for entry in journal.entries:
        event = _event(entry.line, entry.saved_at, entry.values)
        if event is None:
            strange.append(entry.line)
        elif event.entry_id not in seen:
            seen.add(event.entry_id)
            if events and event.saved_at < events[-1].saved_at:
                went_back += 1
                event = _moved(event, events[-1].saved_at)
            events.append(event)
            if clock := entry.values.get("device_at"):
                clocks[event.device] = (datetime.fromisoformat(str(clock)) - entry.saved_at).total_seconds()
    return SiteJob(name, _taken_back(events), (*_cut(journal), *_findings(clocks, strange, went_back, journal.is_cut)))


def _event(line: int, saved_at: datetime, values: Mapping[str, Any]) -> SiteEvent | None:
    try:
        at = min(datetime.fromisoformat(values["at"]), saved_at) if values.get("at") else saved_at
        of = values["of"]
        if not isinstance(of, dict):
            return None
        device = str(values.get("device") or "")
        return SiteEvent(line, str(values["id"]), str(values["kind"]), at, saved_at, device, of)
    except (KeyError, TypeError, ValueError):
        return None


def _moved(event: SiteEvent, earliest: datetime) -> SiteEvent:
    """The event on a clock that does not run backwards; how long before it was saved it happened stays."""
    at = earliest - (event.saved_at - event.at)
    return SiteEvent(event.line, event.entry_id, event.kind, at, earliest, event.device, event.of)


def _taken_back(events: list[SiteEvent]) -> tuple[SiteEvent, ...]:
    """Mark what was taken back. Read from the end: an undo that was itself taken back takes nothing back."""
    cancelled: set[str] = set()
    for event in reversed(events):
        if event.kind == "undo" and event.entry_id not in cancelled:
            cancelled.add(str(event.of.get("undoes")))
    return tuple(
        SiteEvent(e.line, e.entry_id, e.kind, e.at, e.saved_at, e.device, e.of, e.entry_id in cancelled) for e in events
    )


def _cut(journal: Journal) -> tuple[Finding, ...]:
    if not journal.is_cut:
        return ()
    sentence = (
        "Entries of this job that were saved are missing or were changed since; restore its journal from a backup, or "
        "enter again what is missing."
    )
    return (Finding("entries_lost", sentence, {"lines": len(journal.entries) + len(journal.torn)}),)


def _findings(clocks: Mapping[str, float], strange: list[int], went_back: int, is_cut: bool) -> tuple[Finding, ...]:
    found = []
    for device, ahead_s in clocks.items():
        if abs(ahead_s) > CLOCK_TOLERANCE_S:
            way = "ahead" if ahead_s > 0 else "behind"
            minutes = round(abs(ahead_s) / 60)
            sentence = (
                f"The clock of a phone is {minutes} min {way}. Times are taken from the computer that keeps the book."
            )
            found.append(Finding("phone_clock", sentence, {"device": device, "ahead_s": ahead_s}))
    if went_back:
        sentence = "The clock of the computer that keeps the book was set back; entries keep the order they came in."
        found.append(Finding("clock_set_back", sentence, {"entries": went_back}))
    if strange:
        lines = Counter(strange)
        sentence = f"{len(lines)} torn or strange {'line' if len(lines) == 1 else 'lines'} in the journal left aside"
        sentence += "." if is_cut else ": never said to be saved."
        found.append(Finding("torn_entry", sentence, {"lines": sorted(lines)}))
    return tuple(found)
