"""Papers of a quote and of a job, as bytes to save."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from dashboard.data.forecasts import Rows
from dashboard.data.opened import book, firm, of_job

if TYPE_CHECKING:
    from models.practice.results.audit_result import Audit
    from models.practice.results.pool_results import OwnFirm
    from models.quote.base.quote_result import Quote

QuotePaper = Literal["client", "owner", "text"]


def quote_paper(kind: QuotePaper, quote: Quote, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> bytes:
    """A quote on paper: for the client or the owner as PDF, or as plain text. SettingsError for a mark or font."""
    from dashboard.papers import owner_sheet, quote_sheet
    from dashboard.papers.quote_contents import contents
    from dashboard.papers.quote_text import quote_text
    from dashboard.papers.sheet import letterhead
    from pipeline.quotes.requests import request_features, requests_from_tables

    settings, today = firm(), date.today()
    asked = request_features(requests_from_tables(jobs, emitters, pipe_runs), settings).features.iloc[0]
    said = contents(quote, {str(name): value for name, value in asked.items()}, settings, today)
    if kind == "text":
        return quote_text(said, settings).encode("utf-8")
    if kind == "owner":
        return owner_sheet.owner_sheet(said, quote, letterhead(settings, book().path, owner_sheet.TITLE, today))
    return quote_sheet.quote_sheet(said, quote, letterhead(settings, book().path, quote_sheet.TITLE, today))


def audit_paper(audit: Audit, view: OwnFirm | None = None) -> bytes:
    """An audit as PDF, for a trade body; with `view` for one firm, beside the unnamed others."""
    from dashboard.papers.audit_report import TITLE, audit_report
    from dashboard.papers.sheet import letterhead

    return audit_report(audit, letterhead(firm(), book().path, TITLE, date.today()), view)


def job_paper(build: str, firm_id: str, job_id: str) -> bytes:
    """The report of a finished job for the client, as PDF. BadInput for a job without weighings."""
    from dashboard.papers.job_contents import TABLES, job_contents
    from dashboard.papers.job_report import TITLE, job_report
    from dashboard.papers.sheet import letterhead

    tables = {name: of_job(build, name, firm_id, job_id) for name in TABLES}
    return job_report(job_contents(tables), letterhead(firm(), Path(book().path), TITLE, date.today()))
