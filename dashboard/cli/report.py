"""`sludgebook report`: papers for the client and the file, as PDF and, for a quote, as plain text."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.cli import printing as text
from pipeline.contract.findings import BadInput, BookError
from pipeline.store.book import Book, write_whole

if TYPE_CHECKING:
    from models.quote.base.quote_result import Quote

AUDIT = "audit"


def report(
    what: str, path: Path, pdf: Path | None, plain: Path | None, *, owner: bool, firm_id: str | None = None
) -> None:
    """Write the paper of a request file (a quote), of a finished job, or of the audit (`firm_id`: of one firm)."""
    for out in (pdf, plain):
        if out is not None and out.exists():
            raise BadInput(f"{out} is there already; name another file or remove it.")
    if pdf is None and plain is None:
        raise BadInput("Name the file to write: --pdf OUT.pdf, or --text OUT.txt for a quote.")
    book = Book(path)
    is_request = Path(what).suffix.lower() == ".json" or Path(what).is_dir()
    if plain is not None and not is_request:
        raise BadInput("--text is for a quote; a job's report is written with --pdf.")
    if is_request:
        made = _quote_papers(book, Path(what), owner=owner)
    else:
        made = (_audit_paper(book, firm_id) if what == AUDIT else _job_paper(book, what), "")
    wanted = [(out, content) for out, content in ((pdf, made[0]), (plain, made[1].encode())) if out is not None]
    for out, content in wanted:
        _write(out, content)
    outs = [str(out) for out, _ in wanted]
    text.json_out({"written": outs}) if text.wants_json(None) else text.say(f"Written: {', '.join(outs)}")


def _write(out: Path, content: bytes) -> None:
    try:
        write_whole(out, content)
    except OSError as error:
        raise BadInput(f"{out} cannot be written: {error.strerror or error}.") from error


def _quote_papers(book: Book, request: Path, *, owner: bool) -> tuple[bytes, str]:
    from dashboard.papers import owner_sheet, quote_sheet
    from dashboard.papers.quote_contents import contents
    from dashboard.papers.quote_text import quote_text
    from dashboard.papers.sheet import letterhead

    quote, asked = _quote(book, request)
    firm, today = book.firm(), date.today()
    said = contents(quote, asked, firm, today)
    if owner:
        head = letterhead(firm, book.path, owner_sheet.TITLE, today)
        return owner_sheet.owner_sheet(said, quote, head), quote_text(said, firm)
    head = letterhead(firm, book.path, quote_sheet.TITLE, today)
    return quote_sheet.quote_sheet(said, quote, head), quote_text(said, firm)


def _quote(book: Book, request: Path) -> tuple[Quote, dict[str, Any]]:
    """The quote of a file that asks for one job, and the features it was made from."""
    from models.quote.answer import answer
    from models.quote.model.storage import load_quote
    from pipeline.quotes.requests import read_requests, request_features

    inputs = request_features(read_requests(request), book.firm())
    if len(inputs.features) != 1:
        raise BadInput(f"{request.name} asks for {len(inputs.features)} jobs; a quote sheet is for one.")
    folder = book.fitted_models(book.current())
    if folder is None:
        raise BookError(f"No model is fitted for this book yet; run `sludgebook train --book {book.path}` first.")
    quote = answer(load_quote(folder), inputs.features, inputs.volumes, book.firm())[0]
    return quote, {str(name): value for name, value in inputs.features.iloc[0].items()}


def _audit_paper(book: Book, firm_id: str | None) -> bytes:
    from dashboard.cli.audit import weighed
    from dashboard.papers.audit_report import TITLE, audit_report
    from dashboard.papers.sheet import letterhead

    found, view = weighed(book, firm_id)
    return audit_report(found, letterhead(book.firm(), book.path, TITLE, date.today()), view)


def _job_paper(book: Book, name: str) -> bytes:
    from dashboard.papers.job_contents import TABLES, job_contents
    from dashboard.papers.job_report import TITLE, job_report
    from dashboard.papers.sheet import letterhead
    from pipeline.store.job_reads import find_job, rows_of_job

    build = book.current()
    firm_id, job_id = find_job(build, name)
    tables = {table: rows_of_job(build, table, firm_id, job_id) for table in TABLES}
    head = letterhead(book.firm(), book.path, TITLE, date.today())
    return job_report(job_contents(tables), head)
