"""Quotes kept in the book, and quoted against done."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.data.forecasts import Rows
from dashboard.data.opened import book, firm

if TYPE_CHECKING:
    from models.quote.base.quote_result import Quote
    from models.quote.pricing.track_record import TrackRecord


def keep_quote(build: str, quote: Quote, job: str, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> str:
    """Keep a quote under a job name of the firm's own; its id. BookError when it cannot be written."""
    from dataclasses import replace

    from models.quote.answer import as_json
    from pipeline.quotes.kept_quotes import keep_quote as keep

    named = as_json(replace(quote, job_id=job))
    asked = {"jobs": jobs, "emitters": emitters, "pipe_runs": pipe_runs}
    plain = {name: [{**row, "job_id": job} for row in rows] for name, rows in asked.items()}
    folder = book().fitted_models(Path(build)) if build else None
    until = date.today() + timedelta(days=firm().quote_valid_days)
    return keep(book(), named, plain, model=folder.name if folder else "typical rule", valid_until=until)


def kept_quotes() -> pd.DataFrame:
    """Every kept quote, a row each, the newest first. Read afresh: a quote must show at once."""
    from pipeline.quotes.quoted_and_done_rows import quotes_frame

    return quotes_frame(book()).iloc[::-1].reset_index(drop=True)


def say_what_became(quote_id: str, status: str, job: str = "") -> None:
    """Note that a quote was won, lost or withdrawn, and as which job of the book it was done, if one is named."""
    from pipeline.quotes.kept_quotes import say_what_became as say
    from pipeline.store.job_reads import find_job

    say(book(), quote_id, status, job=find_job(book().current(), job) if job else None)


def track_record(build: str) -> TrackRecord:
    """Quoted against done over all jobs of the build. NotEnoughData when no job has both."""
    from models.quote.pricing.track_record import track_record as work_out
    from pipeline.quotes.quoted_and_done_rows import quoted_and_done

    return work_out(quoted_and_done(book(), Path(build)), firm())
