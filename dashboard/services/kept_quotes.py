"""Quotes kept in the book, what became of them, and quoted against done."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd
    import polars as pl

    from dashboard.services.quoting import Answer
    from models.quote.pricing.track_record import TrackRecord
    from pipeline.contract.firm import Firm
    from pipeline.quotes.requests import Requests
    from pipeline.store.book import Book

TABLES = ("quotes", "quoted_and_done")
"""Tables that `export` writes besides those of the build."""


def keep(book: Book, answer: Answer, requests: Requests, model: str, firm: Firm) -> str:
    """Keep a quote, in the shape that the command prints, with the rows it was asked by; its id.

    `model` names what it was made by. BookError when it cannot be written.
    """
    from pipeline.quotes.kept_quotes import keep_quote

    line = answer.as_json()
    tables = {"jobs": requests.jobs, "emitters": requests.emitters, "pipe_runs": requests.pipe_runs}
    asked = {name: _rows_of(name, frame, line["firm_id"], line["job_id"]) for name, frame in tables.items()}
    return keep_quote(book, line, asked, model=model, valid_until=firm.valid_until(date.today()))


def _rows_of(table: str, frame: pl.DataFrame, firm_id: str, job_id: str) -> list[dict[str, Any]]:
    """The job's rows in the columns of the job log, empty cells left out."""
    from pipeline.contract import JOB_LOG

    rows = frame.to_dicts()
    mine = (row for row in rows if row.get("job_id") == job_id and row.get("firm_id", firm_id) == firm_id)
    names = JOB_LOG[table].names
    return [{name: row[name] for name in names if row.get(name) is not None} for row in mine]


def say_what_became(book: Book, quote_id: str, status: str, job: str = "") -> None:
    """Note that a quote was won, lost or withdrawn, and as which JOB or FIRM/JOB of the book it was done."""
    from pipeline.quotes.kept_quotes import say_what_became as say
    from pipeline.store.job_reads import find_job

    say(book, quote_id, status, job=find_job(book.current(), job) if job else None)


def quotes(book: Book) -> pd.DataFrame:
    """Every kept quote, a row each, in the order kept."""
    from pipeline.quotes.quoted_and_done_rows import quotes_frame

    return quotes_frame(book)


def track_record(book: Book, build: Path, firm: Firm) -> TrackRecord:
    """Quoted against done over all jobs of a build. NotEnoughData when no job has both."""
    from models.quote.pricing.track_record import track_record as work_out
    from pipeline.quotes.quoted_and_done_rows import quoted_and_done

    return work_out(quoted_and_done(book, build), firm)


def table(book: Book, name: str) -> pd.DataFrame:
    """One of `TABLES`: the kept quotes, or every job with a price beside its time and cost at today's rates."""
    return quotes(book) if name == "quotes" else track_record(book, book.current(), book.firm()).jobs
