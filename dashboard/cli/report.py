"""`sludgebook report`: papers for the client and the file, as PDF and, for a quote, as plain text."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli import printing as text
from dashboard.cli.open_book import book_at
from pipeline.contract.findings import BadInput
from pipeline.contract.new_files import check_is_new
from pipeline.contract.whole_files import write_whole
from pipeline.store.book import Book

AUDIT = "audit"


def report(
    what: str, path: Path, pdf: Path | None, plain: Path | None, *, owner: bool, firm_id: str | None = None
) -> None:
    """Write the paper of a request file (a quote), of a finished job, or of the audit (`firm_id`: of one firm)."""
    for out in (pdf, plain):
        if out is not None:
            check_is_new(out)
    if pdf is None and plain is None:
        raise BadInput("Name the file to write: --pdf OUT.pdf, or --text OUT.txt for a quote.")
    is_request = Path(what).suffix.lower() == ".json" or Path(what).is_dir()
    if plain is not None and not is_request:
        raise BadInput("--text is for a quote; a job's report is written with --pdf.")
    book = book_at(path)
    if is_request:
        made = _quote_papers(book, Path(what), owner=owner)
    else:
        made = (_audit_paper(book, firm_id) if what == AUDIT else _job_paper(book, what), b"")
    wanted = [(out, content) for out, content in ((pdf, made[0]), (plain, made[1])) if out is not None]
    for out, content in wanted:
        _write(out, content)
    outs = [str(out) for out, _ in wanted]
    text.json_out({"written": outs}) if text.wants_json(None) else text.say(f"Written: {', '.join(outs)}")


def _write(out: Path, content: bytes) -> None:
    try:
        write_whole(out, content)
    except OSError as error:
        raise BadInput(f"{out} cannot be written: {error.strerror or error}.") from error


def _quote_papers(book: Book, request: Path, *, owner: bool) -> tuple[bytes, bytes]:
    from dashboard.services import reporting
    from dashboard.services.settings import settings

    firm = settings(book)
    quote, asked = reporting.quote_of_file(book, request, firm)
    paper = reporting.quote_paper("owner" if owner else "client", quote, asked, firm, book.path)
    return paper, reporting.quote_paper("text", quote, asked, firm, book.path)


def _audit_paper(book: Book, firm_id: str | None) -> bytes:
    from dashboard.services import auditing, reporting

    found, view = auditing.audit_of_book(book, firm_id, text.bars)
    return reporting.audit_paper(found, view, book.firm(), book.path)


def _job_paper(book: Book, name: str) -> bytes:
    from dashboard.services import reporting
    from dashboard.services.build_tables import tables_of_job
    from dashboard.services.settings import settings
    from pipeline.store.job_reads import find_job

    build = book.current()
    return reporting.job_paper(tables_of_job(build, *find_job(build, name)), settings(book), book.path)
