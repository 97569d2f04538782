"""Today's job: its entries as a watch takes them, a name for it, and the surveys it can begin from."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from dashboard.services.build_tables import WATCH_TABLES
from pipeline.contract.findings import Finding
from pipeline.contract.job_cautions import cautions

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.services.watching import Past
    from models.catch.records.job import JobCatch
    from pipeline.contract.firm import Firm
    from pipeline.on_site.entries import Kind, Sender
    from pipeline.on_site.open_job import SiteEvent, SiteJob
    from pipeline.on_site.quote_link import QuotedSurvey
    from pipeline.store.book import Book

FIRM = "own"


@dataclass(frozen=True, slots=True, eq=False)
class SiteView:
    """A job in progress as `watch` takes it, its readings as the job log holds them, and what to know of its rows."""

    job: JobCatch
    readings: pd.DataFrame
    findings: tuple[Finding, ...]


def site_view(book: Book, job: SiteJob, now: datetime, firm: Firm, known: Past) -> SiteView:
    """A job in progress as known at `now`, priced and expected as a job of the book is."""
    from dashboard.services.watching import job_of_book
    from pipeline.on_site.entry_rows import job_log_rows
    from pipeline.on_site.instrument_files import logged_readings
    from pipeline.on_site.job_features import site_tables

    logged = logged_readings(book, job)
    tables = site_tables(book, job_log_rows(job, logged.rows, now), now, WATCH_TABLES)
    seen = job_of_book(tables.frames.__getitem__, FIRM, job.name, firm, known)
    if job.finish is None:
        seen = replace(seen, ended_at=None)
    begun = (job.start.of.get("job") or {}) if job.start else {}
    found = (*cautions(begun), *job.findings, *logged.findings, *tables.findings)
    return SiteView(seen, tables.frames["readings"], found)


def as_of(job: SiteJob, now: datetime) -> datetime:
    """This minute, or the second after the newest entry: within a minute nothing is worked out twice."""
    minute = now.replace(second=0, microsecond=0)
    return max(minute, job.events[-1].saved_at + timedelta(seconds=1)) if job.events else minute


def next_name(today: datetime, taken: Collection[str]) -> str:
    """A name for a new job: the day and the first letter that is not taken."""
    letters = "abcdefghijklmnopqrstuvwxyz"
    names = [f"{today:%Y-%m-%d}-{letter}" for letter in letters] + [f"{today:%Y-%m-%d-%H%M%S}"]
    return next((name for name in names if name not in taken), names[-1])


def save(
    book: Book, name: str, kind: Kind, of: Mapping[str, Any], sender: Sender, *, ago_min: float = 0.0
) -> SiteEvent:
    """Save one entry of a job on site; on disk before this returns. A job begun from a kept quote marks it won.

    BadInput says what cannot be (`BeforeTheStart` where the start would have to be moved), BookError why not saved.
    """
    from pipeline.on_site.entries import record
    from pipeline.on_site.entry_times import check_moved_start, check_time
    from pipeline.on_site.finish_check import check_finish
    from pipeline.on_site.open_job import read_site_job
    from pipeline.on_site.quote_link import link_quote

    now, job = datetime.now(), read_site_job(book, name)
    if sent := next((event for event in job.events if event.entry_id == sender.entry_id), None):
        return sent
    if kind == "finish":
        check_finish(job, of, now)
    elif kind == "start_moved":
        check_moved_start(job, of["flush_started_at"], now)
    else:
        check_time(job, kind, now, ago_min)
    line = record(book, name, kind, of, sender, ago_min=ago_min, now=now).line
    job = read_site_job(book, name)
    if kind == "start":
        link_quote(book, job, is_begun_now=True)
    return next(event for event in job.events if event.line == line)


def quoted_surveys(book: Book) -> dict[str, QuotedSurvey]:
    """Kept quotes that were offered or won and that no job was begun from yet, by quote and job, the newest first."""
    from pipeline.on_site.quote_link import quoted_surveys

    return {f"{survey.quote_id} · {survey.job_id}": survey for survey in quoted_surveys(book)}
