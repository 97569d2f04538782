"""Today's job: its entries as a watch takes them, a name for it, and the surveys it can begin from."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from dashboard.services.build_tables import WATCH_TABLES
from pipeline.contract.findings import Finding
from pipeline.contract.job_cautions import cautions

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.services.watching import Past
    from models.catch.records.job import JobCatch
    from pipeline.contract.firm import Firm
    from pipeline.on_site.open_job import SiteJob
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


def next_name(today: datetime, taken: Collection[str]) -> str:
    """A name for a new job: the day and the first letter that is not taken."""
    letters = "abcdefghijklmnopqrstuvwxyz"
    names = [f"{today:%Y-%m-%d}-{letter}" for letter in letters] + [f"{today:%Y-%m-%d-%H%M%S}"]
    return next((name for name in names if name not in taken), names[-1])


def quoted_surveys(book: Book) -> dict[str, Mapping[str, list[dict[str, Any]]]]:
    """Surveys of kept quotes that were offered or won, by quote and job, the newest first: rows by table."""
    from pipeline.quotes.kept_quotes import kept_quotes

    alive = [quote for quote in kept_quotes(book) if quote.status in ("offered", "won")]
    return {f"{quote.quote_id} · {quote.job[1]}": quote.asked for quote in reversed(alive)}
