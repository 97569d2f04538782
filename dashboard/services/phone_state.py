"""A job on site as the phone beside the machine shows it: plain rows, worked out by `site_view` and `watch`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from dashboard.words import wording
from dashboard.words.entry_words import in_words, place

if TYPE_CHECKING:
    from dashboard.services.on_site import SiteView
    from models.catch.records.ragged_arrays import Floats
    from models.catch.records.watch_result import EmitterWatch, Watch
    from pipeline.on_site.open_job import SiteEvent, SiteJob

ENTRIES_SHOWN = 12
"""The newest entries of a job that a phone lists."""
CALLED = "radiator"
"""What an emitter is called at the machine."""


@dataclass(frozen=True, slots=True)
class PhoneEntry:
    """One entry that is on disk: its id, kind, words, when it happened, and whether it was or may be taken back."""

    id: str
    kind: str
    words: str
    at: datetime
    is_undone: bool
    may_be_taken_back: bool


@dataclass(frozen=True, slots=True)
class PhoneEmitter:
    """One emitter: room and kind in words (empty: nobody said), dry kilograms caught with the flow on it alone, the
    pace of its last weighing [dry g/min] (None: not weighed alone), and its state in words (empty: not known)."""

    emitter_no: int
    room: str
    kind: str
    caught_kg: float | None
    last_pace_g_min: float | None
    state: str


@dataclass(frozen=True, slots=True)
class Forecast:
    """What the watch says, as of `at`: its answer, the kilograms still to come in words, where to go next."""

    at: datetime
    answer: str
    still_to_come: str
    where_next: str


@dataclass(frozen=True, slots=True)
class PhoneJob:
    """An open job in the list: what can be said of it from its journal alone."""

    name: str
    started_at: datetime | None
    last_weighed_at: datetime | None
    flow_on: str
    emitters: int


@dataclass(frozen=True, slots=True)
class PhoneState:
    """A job as of `at`. `curve_minutes` (flush minutes) and `curve_kg` (dry, cumulative) have one value a weighing;
    `forecast` is None where nothing can be worked out, then `instead` says why."""

    name: str
    at: datetime
    lines: int
    started_at: datetime | None
    is_finished: bool
    focus_emitter_no: int | None
    flow_on: str
    last_weighed_at: datetime | None
    minutes_since_weighing: float | None
    last_mass_g: float | None
    curve_minutes: tuple[float, ...] = ()
    curve_kg: tuple[float, ...] = ()
    house_pace_g_min: float | None = None
    emitters: tuple[PhoneEmitter, ...] = ()
    entries: tuple[PhoneEntry, ...] = ()
    forecast: Forecast | None = None
    instead: str = ""
    warnings: tuple[str, ...] = ()


def phone_job(job: SiteJob) -> PhoneJob:
    """A job in the list of those that are open."""
    weighed = _last_weighing(job)
    flow_on = place(job.focus, job.room(job.focus), CALLED)
    return PhoneJob(
        job.name, job.started_at, None if weighed is None else weighed.at, flow_on, len(job.emitter_numbers)
    )


def phone_state(
    job: SiteJob, at: datetime, view: SiteView | None = None, watch: Watch | None = None, instead: str = ""
) -> PhoneState:
    """A job as its journal, its view and its watch tell it at a moment; `instead` says why there is no watch."""
    from models.catch.records.job import house_curve

    weighed = _last_weighing(job)
    minutes, kg = house_curve(view.job) if view else (np.zeros(0), np.zeros(0))
    since = None if weighed is None else max(0.0, (at - weighed.at).total_seconds() / 60)
    found = (*(watch.findings if watch else ()), *(view.findings if view else job.findings))
    return PhoneState(
        name=job.name,
        at=at,
        lines=job.lines,
        started_at=job.started_at,
        is_finished=job.finish is not None,
        focus_emitter_no=job.focus,
        flow_on=place(job.focus, job.room(job.focus), CALLED),
        last_weighed_at=None if weighed is None else weighed.at,
        minutes_since_weighing=since,
        last_mass_g=None if weighed is None else float(weighed.of["mass_g"]),
        curve_minutes=tuple(float(each) for each in minutes),
        curve_kg=tuple(float(each) for each in kg),
        house_pace_g_min=last_pace_g_min(minutes, kg),
        emitters=_emitters(job, view, watch),
        entries=_entries(job),
        forecast=_forecast(job, watch),
        instead=instead,
        warnings=tuple(dict.fromkeys(finding.sentence for finding in found)),
    )


def last_pace_g_min(minutes: Floats, kg: Floats) -> float | None:
    """Dry grams a minute over the time before the last weighing; both arrays of shape (weighings,), cumulative.

    None without a weighing, or where no time passed before the last one.

    >>> import numpy as np
    >>> last_pace_g_min(np.array([10.0, 20.0]), np.array([0.5, 0.8]))
    30.0
    """
    if not len(minutes):
        return None
    before_minutes, before_kg = (minutes[-2], kg[-2]) if len(minutes) > 1 else (0.0, 0.0)
    passed = float(minutes[-1] - before_minutes)
    return round(1000.0 * float(kg[-1] - before_kg) / passed, 6) if passed > 0 else None


def _last_weighing(job: SiteJob) -> SiteEvent | None:
    return max(job.all_of("catch"), key=lambda event: event.at, default=None)


def _forecast(job: SiteJob, watch: Watch | None) -> Forecast | None:
    if watch is None or not job.all_of("catch"):
        return None
    left = "" if watch.remaining_kg is None else wording.kilograms_range(watch.remaining_kg)
    return Forecast(watch.at, watch.answer, left, watch.where_next)


def _emitters(job: SiteJob, view: SiteView | None, watch: Watch | None) -> tuple[PhoneEmitter, ...]:
    from models.catch.records.job import emitter_curves

    curves = emitter_curves(view.job) if view else {}
    seen = {each.emitter_no: each for each in (watch.emitters if watch else ())}
    kinds = {int(row["emitter_no"]): str(row.get("emitter_kind") or "") for row in job.emitters}
    return tuple(
        PhoneEmitter(
            emitter_no=number,
            room=job.room(number),
            kind=wording.plain(kinds[number]) if kinds.get(number) else "",
            caught_kg=float(curves[number][1][-1]) if number in curves else None,
            last_pace_g_min=last_pace_g_min(*curves[number]) if number in curves else None,
            state=_state(seen.get(number)),
        )
        for number in job.emitter_numbers
    )


def _state(seen: EmitterWatch | None) -> str:
    return "" if seen is None else wording.EMITTER_STATES[seen.state]


def _entries(job: SiteJob) -> tuple[PhoneEntry, ...]:
    """The newest entries, the last one first."""
    from pipeline.on_site.open_job import may_be_taken_back

    shown = [event for event in job.events if event.kind != "undo"][-ENTRIES_SHOWN:]
    return tuple(
        PhoneEntry(e.entry_id, e.kind, in_words(e, CALLED), e.at, e.is_undone, may_be_taken_back(e))
        for e in reversed(shown)
    )
