"""What the commands about kept quotes do: list them, say what became of one, export them."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli import printing as text
from dashboard.words import wording
from pipeline.contract.findings import BadInput
from pipeline.store.book import Book


def export(table: str, out: Path, book: Book) -> int:
    """Write the kept quotes, or every job with a price beside its time and cost at today's rates; the rows."""
    import polars as pl

    from dashboard.services import kept_quotes
    from pipeline.store.export import check_new_file, export_frame

    check_new_file(out)
    return export_frame(pl.from_pandas(kept_quotes.table(book, table)), out)


def quotes(path: Path, became: tuple[str, str] | None, job: str | None, as_json: bool | None) -> None:
    """List the kept quotes; or note what became of one, and as which job it was done."""
    from dashboard.services import kept_quotes
    from dashboard.services.settings import settings

    book = Book(path)
    if not book.exists():
        book.current()  # says what is missing
    if job is not None and became is None:
        raise BadInput("--job goes with --became: it says as which job a quote was done.")
    if became is not None:
        kept_quotes.say_what_became(book, *became, job or "")
    rows = kept_quotes.quotes(book).to_dict("records")
    if text.wants_json(as_json):
        for row in rows:
            text.json_line(
                {name: value.isoformat() if hasattr(value, "isoformat") else value for name, value in row.items()}
            )
        return
    settings(book)
    if not rows:
        text.say("No quote is kept in this book yet; `sludgebook quote REQUEST --keep` keeps one.")
    for row in rows:
        text.say(
            f"{row['quote_id']}  {row['status']:<9}  {row['firm_id']}/{row['job_id']}  "
            f"{wording.money(row['price'], row['currency'])} before tax, kept {row['kept_at']:%Y-%m-%d}, "
            f"valid until {row['valid_until']}"
        )
