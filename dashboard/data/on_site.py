"""The job in progress: its entries, the same tables as a job of the book has, and its way into the book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard.data.jobs import past
from dashboard.data.opened import ENTRIES, book, firm, shelf, table
from dashboard.services import aftercare, on_site
from dashboard.services.on_site import FIRM, SiteView
from pipeline.contract.findings import BadInput, Finding, SludgebookError
from pipeline.contract.photographs import Photograph
from pipeline.on_site.quote_link import QuotedSurvey

if TYPE_CHECKING:
    from pipeline.intake.load_report import LoadReport
    from pipeline.on_site.entries import Kind
    from pipeline.on_site.instrument_headings import AskedHeading
    from pipeline.on_site.open_job import SiteEvent, SiteJob


__all__ = ["FIRM", "Phone", "QuotedSurvey", "SiteView"]


@dataclass(frozen=True, slots=True)
class Phone:
    """The device an entry comes from, and its clock (None: it has not told)."""

    device: str = ""
    clock: datetime | None = None


def site_jobs() -> tuple[SiteJob, ...]:
    """Jobs begun on site, the one entered into last first. BookError when no book is open."""
    from pipeline.on_site.open_job import site_jobs

    return site_jobs(book())


def open_jobs() -> tuple[SiteJob, ...]:
    """Jobs that are not finished, or finished and not in the book yet; none where no book is open."""
    try:
        return tuple(job for job in site_jobs() if job.received is None)
    except SludgebookError:
        return ()


def site_job(name: str) -> SiteJob:
    """One job as its journal tells it now."""
    from pipeline.on_site.open_job import read_site_job

    return read_site_job(book(), name)


def save(
    name: str, kind: Kind, of: Mapping[str, Any], entry_id: str, phone: Phone, *, ago_min: float = 0.0
) -> SiteEvent:
    """Save one entry; on disk before this returns. BadInput says what cannot be, BookError why it is not saved."""
    from pipeline.on_site.entries import Sender

    if kind == "start" and name in taken_names():
        raise BadInput(f"A job called {name} is there already; take another name.")
    return on_site.save(book(), name, kind, of, Sender(entry_id, phone.device, phone.clock), ago_min=ago_min)


def times_at_fault(job: SiteJob) -> str:
    """What is wrong with the times of a job that goes on, as part of a sentence; empty where nothing is."""
    from pipeline.on_site.finish_check import times_at_fault

    return times_at_fault(job, datetime.now())


def is_start_at_fault(job: SiteJob) -> bool:
    """Whether the start of a job that goes on cannot be right, whenever it ends."""
    from pipeline.on_site.finish_check import is_start_at_fault

    return is_start_at_fault(job, datetime.now())


def attach(
    name: str, file: str, content: bytes, entry_id: str, phone: Phone, answers: Mapping[str, str] | None = None
) -> int | tuple[AskedHeading, ...]:
    """Keep an instrument's file with the job: the number of readings in it, or what has to be answered about its
    headings first (`answers`: heading → value of a choice). BadInput where there is no reading in it."""
    from pipeline.on_site.entries import Sender
    from pipeline.on_site.instrument_files import attach
    from pipeline.on_site.instrument_headings import HeadingsOpen

    sender = Sender(entry_id, phone.device, phone.clock)
    try:
        return attach(book(), site_job(name), file, content, sender, answers)[1]
    except HeadingsOpen as problem:
        return problem.asked


def attach_photograph(
    name: str, content: bytes, shows: str, emitter_no: int | None, entry_id: str, phone: Phone
) -> None:
    """Keep a photograph with the job, made small and stripped of place and device; BadInput where it is none."""
    from pipeline.on_site.entries import Sender
    from pipeline.on_site.photographs import attach_photograph

    sender = Sender(entry_id, phone.device, phone.clock)
    attach_photograph(book(), site_job(name), content, shows, sender, emitter_no=emitter_no)


def photographs(name: str) -> tuple[Photograph, ...]:
    """The photographs of a job on site, in the order entered."""
    from pipeline.on_site.photographs import photographs

    return photographs(book(), site_job(name))


def hand_in_site_job(name: str) -> LoadReport:
    """Put a finished job into the book; doing it again changes nothing."""
    from pipeline.on_site.finish import hand_in

    return hand_in(book(), name)


def note_return_visit(
    firm_id: str, job_id: str, on: date, cause: str, debris_related: bool | None, emitter_no: int | None
) -> None:
    """Put one return visit into the book. BadInput where the book rejects it."""
    aftercare.note_return_visit(book(), firm_id, job_id, on, cause, debris_related, emitter_no)


def emitters_called_about(build: str, firm_id: str, job_id: str) -> dict[int, str]:
    """Emitters of a job by number, each with its room, empty where nobody named it."""
    return aftercare.emitters_called_about(Path(build), firm_id, job_id)


def emitters_to_walk(job: Mapping[str, Any], listed: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The emitters that a job begins with: as listed, else as many as were counted."""
    from pipeline.on_site.quote_link import emitters_to_walk

    return emitters_to_walk(job, listed)


def note_all_well(firm_id: str, job_id: str, asked_on: date) -> None:
    """Note that there was no trouble up to a day. BadInput where as much is known already."""
    aftercare.note_all_well(book(), firm_id, job_id, asked_on)


def before_finishing(job: SiteJob, facts: Mapping[str, Any], readings: int) -> tuple[Finding, ...]:
    """What is still to do or to write down before the job is finished."""
    from pipeline.on_site.rinse_proof import before_finishing

    return before_finishing(job, facts, readings)


def readings_at_25_c(facts: Mapping[str, Any], water_c: Mapping[str, float | None]) -> dict[str, Any]:
    """The facts with each conductivity as at 25 °C, where the warmth of its water [°C] is given."""
    from pipeline.on_site.rinse_proof import readings_at_25_c

    return readings_at_25_c(facts, water_c)


def compensated_range_c() -> tuple[float, float]:
    """Coldest and warmest water [°C] for which a conductivity can be put right."""
    from pipeline.on_site.rinse_proof import COLDEST_C, WARMEST_C

    return COLDEST_C, WARMEST_C


@st.cache_resource(max_entries=8 * ENTRIES, show_spinner=False)
def site_view(folder: str, name: str, lines: int, now: datetime) -> SiteView:
    """A job in progress as known at `now`. `folder` and `lines` say of which book and how far its journal went."""
    return on_site.site_view(book(), site_job(name), now, firm(), past())


def taken_names() -> frozenset[str]:
    """Names of jobs that the book or a journal has already."""
    opened = shelf()
    known = set(table(opened.build, "jobs")["job_id"]) if opened.state == "ready" else set()
    return frozenset(known | {job.name for job in site_jobs()})


def is_free(name: str) -> bool:
    """Whether no job of the book and none on site has the name."""
    return name not in taken_names()


def next_name(today: datetime) -> str:
    """A name for a new job: the day and the first free letter."""
    return on_site.next_name(today, taken_names())


def quoted_surveys() -> dict[str, QuotedSurvey]:
    """Kept quotes that were offered or won and that no job was begun from yet, by quote and job, the newest first."""
    return on_site.quoted_surveys(book())


def engineers() -> list[str]:
    """Ids of engineers that the book and the jobs on site know, in order."""
    opened = shelf()
    known = set(table(opened.build, "jobs")["engineer_id"].dropna()) if opened.state == "ready" else set()
    return sorted(known | {job.engineer_id for job in site_jobs() if job.engineer_id})
