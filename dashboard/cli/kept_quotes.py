"""What the commands about kept quotes do: keep one, list them, say what became of one."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.cli import printing as text
from dashboard.words import money, wording
from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    import polars as pl

    from pipeline.quotes.requests import Requests
    from pipeline.store.book import Book


TABLES = ("quotes", "quoted_and_done")
"""Tables that `export` writes besides those of the build."""


def export(table: str, out: Path, book: Book) -> int:
    """Write the kept quotes, or every job with a price beside its time and cost at today's rates; the rows."""
    import polars as pl

    from pipeline.quotes.quoted_and_done_rows import quoted_and_done, quotes_frame
    from pipeline.store.export import check_new_file, export_frame

    check_new_file(out)
    if table == "quotes":
        frame = quotes_frame(book)
    else:
        from models.quote.pricing.track_record import track_record

        frame = track_record(quoted_and_done(book, book.current()), book.firm()).jobs
    return export_frame(pl.from_pandas(frame), out)


def keep(book: Book, line: dict[str, Any], requests: Requests, model: str) -> str:
    """Keep one quote, as the command prints it, with the rows it was asked by; its id."""
    from pipeline.quotes.kept_quotes import keep_quote

    tables = {"jobs": requests.jobs, "emitters": requests.emitters, "pipe_runs": requests.pipe_runs}
    asked = {name: _rows(frame, line["firm_id"], line["job_id"]) for name, frame in tables.items()}
    until = date.today() + timedelta(days=book.firm().quote_valid_days)
    return keep_quote(book, line, asked, model=model, valid_until=until)


def _rows(frame: pl.DataFrame, firm_id: str, job_id: str) -> list[dict[str, Any]]:
    rows = frame.to_dicts()
    mine = (row for row in rows if row.get("job_id") == job_id and row.get("firm_id", firm_id) == firm_id)
    return [{name: value for name, value in row.items() if value is not None} for row in mine]


def quotes(path: Path, became: tuple[str, str] | None, job: str | None, as_json: bool | None) -> None:
    """List the kept quotes; or note what became of one, and as which job it was done."""
    from pipeline.quotes.kept_quotes import say_what_became
    from pipeline.quotes.quoted_and_done_rows import quotes_frame
    from pipeline.store.book import Book

    book = Book(path)
    if not book.exists():
        book.current()  # says what is missing
    if job is not None and became is None:
        raise BadInput("--job goes with --became: it says as which job a quote was done.")
    if became is not None:
        say_what_became(book, *became, job=_job(book, job) if job else None)
    rows = quotes_frame(book).to_dict("records")
    if text.wants_json(as_json):
        for row in rows:
            text.json_line(
                {name: value.isoformat() if hasattr(value, "isoformat") else value for name, value in row.items()}
            )
        return
    money.use(book.firm())
    if not rows:
        text.say("No quote is kept in this book yet; `sludgebook quote REQUEST --keep` keeps one.")
    for row in rows:
        text.say(
            f"{row['quote_id']}  {row['status']:<9}  {row['firm_id']}/{row['job_id']}  "
            f"{wording.money(row['price'], row['currency'])} before tax, kept {row['kept_at']:%Y-%m-%d}, "
            f"stands until {row['valid_until']}"
        )


def _job(book: Book, name: str) -> tuple[str, str]:
    from pipeline.store.job_reads import find_job

    return find_job(book.current(), name)
