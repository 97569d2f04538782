"""Quote, finished job and audit on paper: the words from the answer that commands and pages give, drawn as PDF or text.

START HERE: `quote_paper`, `job_paper`, `audit_paper`; `quote_contents` is what a quote's papers say.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.papers.job_contents import JobContents
    from dashboard.papers.quote_contents import QuoteContents
    from dashboard.papers.sheet import Letterhead
    from dashboard.services.build_tables import Read
    from models.practice.results.audit_result import Audit
    from models.practice.results.pool_results import OwnFirm
    from models.quote.base.quote_result import Quote
    from pipeline.contract.firm import Firm
    from pipeline.contract.photographs import Photograph
    from pipeline.quotes.requests import QuoteInputs
    from pipeline.store.book import Book

QuotePaper = Literal["client", "owner", "text"]


def quote_of_file(book: Book, request: Path, firm: Firm) -> tuple[Quote, QuoteInputs]:
    """The quote of a file that asks for one job, and what it was made from. BadInput for another number of jobs."""
    from dashboard.services.quoting import forecaster, quotes
    from pipeline.quotes.requests import read_requests, request_features

    requests = read_requests(request)
    asked = request_features(requests, firm)
    jobs = len(asked.features) + len(requests.refused)
    if jobs != 1:
        raise BadInput(f"{request.name} asks for {jobs} jobs; a quote sheet is for one.")
    return next(quotes(asked, forecaster(book), firm, with_further=False)).quote, asked


def quote_contents(quote: Quote, asked: QuoteInputs, firm: Firm, on: date) -> QuoteContents:
    """What the papers of a quote say; `asked` is what it was made from, one job."""
    from dashboard.papers.quote_contents import contents

    return contents(quote, asked.features.row(0, named=True), firm, on)


def quote_paper(kind: QuotePaper, quote: Quote, asked: QuoteInputs, firm: Firm, folder: Path) -> bytes:
    """A quote on paper: for the client or the owner as PDF, or as plain text. SettingsError for a mark or font."""
    from dashboard.papers import owner_sheet, quote_sheet
    from dashboard.papers.quote_text import quote_text

    today = date.today()
    said = quote_contents(quote, asked, firm, today)
    if kind == "text":
        return quote_text(said, firm).encode("utf-8")
    if kind == "owner":
        return owner_sheet.owner_sheet(said, quote, _letterhead(firm, folder, owner_sheet.TITLE))
    return quote_sheet.quote_sheet(said, quote, _letterhead(firm, folder, quote_sheet.TITLE))


def audit_paper(audit: Audit, view: OwnFirm | None, firm: Firm, folder: Path) -> bytes:
    """An audit as PDF, for a trade body; with `view` for one firm, beside the unnamed others."""
    from dashboard.papers.audit_report import TITLE, audit_report

    return audit_report(audit, _letterhead(firm, folder, TITLE), view)


def job_contents(read: Read, folder: Path | None = None) -> JobContents:
    """What the report of a finished job says; `read` gives its rows, and the book in `folder` its photographs.
    BadInput for a job without weighings."""
    from dashboard.papers.job_contents import TABLES
    from dashboard.papers.job_contents import job_contents as contents

    tables = {name: read(name) for name in TABLES}
    return contents(tables, photographs=() if folder is None else _photographs(tables["jobs"], folder))


def job_paper(read: Read, firm: Firm, folder: Path) -> bytes:
    """The report of a finished job for the client, as PDF."""
    from dashboard.papers.job_report import TITLE, job_report

    return job_report(job_contents(read, folder), _letterhead(firm, folder, TITLE))


def _photographs(jobs: pd.DataFrame, folder: Path) -> tuple[Photograph, ...]:
    """Those taken on site; only a firm's own jobs are entered there."""
    from pipeline.on_site.open_job import read_site_job
    from pipeline.on_site.photographs import photographs
    from pipeline.on_site.quote_link import OWN
    from pipeline.store.book import Book

    if not len(jobs) or jobs["firm_id"].iloc[0] != OWN:
        return ()
    book = Book(folder)
    return photographs(book, read_site_job(book, str(jobs["job_id"].iloc[0])))


def _letterhead(firm: Firm, folder: Path, title: str) -> Letterhead:
    """Of the firm's settings, with the count of simulated jobs of the book at its foot while there is one."""
    from dashboard.papers.sheet import letterhead
    from dashboard.words.simulated_words import on_paper
    from pipeline.store.book import Book
    from pipeline.store.simulated import jobs_held

    held = jobs_held(Book(folder))
    return letterhead(firm, folder, title, date.today(), on_paper(held.simulated_jobs, held.jobs))
