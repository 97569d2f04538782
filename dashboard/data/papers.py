"""Papers of a quote, a job and an audit of the open book, as bytes to save."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from dashboard.data.opened import book, firm, of_job
from dashboard.services import reporting
from dashboard.services.quoting import Rows, inputs_of
from dashboard.services.reporting import QuotePaper

if TYPE_CHECKING:
    from models.practice.results.audit_result import Audit
    from models.practice.results.pool_results import OwnFirm
    from models.quote.base.quote_result import Quote


def quote_paper(kind: QuotePaper, quote: Quote, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> bytes:
    """A quote on paper: for the client or the owner as PDF, or as plain text. SettingsError for a mark or font."""
    settings = firm()
    asked = inputs_of(jobs, emitters, pipe_runs, settings)
    return reporting.quote_paper(kind, quote, asked, settings, book().path)


def audit_paper(audit: Audit, view: OwnFirm | None = None) -> bytes:
    """An audit as PDF, for a trade body; with `view` for one firm, beside the unnamed others."""
    return reporting.audit_paper(audit, view, firm(), book().path)


def job_paper(build: str, firm_id: str, job_id: str) -> bytes:
    """The report of a finished job for the client, as PDF. BadInput for a job without weighings."""
    return reporting.job_paper(partial(of_job, build, firm_id=firm_id, job_id=job_id), firm(), book().path)
