"""Quotes kept in the open book, and quoted against done."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.data.forecasts import forecaster
from dashboard.data.opened import book, firm
from dashboard.services import kept_quotes as service
from dashboard.services.quoting import Answer, Rows

if TYPE_CHECKING:
    from models.quote.base.quote_result import Quote
    from models.quote.offers.further import Further
    from models.quote.pricing.track_record import TrackRecord


def keep_quote(
    build: str, quote: Quote, job: str, jobs: Rows, emitters: Rows, pipe_runs: Rows, further: Further | None = None
) -> str:
    """Keep a quote under a job name of the firm's own; its id. BookError when it cannot be written."""
    from pipeline.quotes.requests import requests_from_tables

    named = [[{**row, "job_id": job} for row in rows] for rows in (jobs, emitters, pipe_runs)]
    answer = Answer(replace(quote, job_id=job), further)
    return service.keep(book(), answer, requests_from_tables(*named), forecaster(build).name, firm())


def kept_quotes() -> pd.DataFrame:
    """Every kept quote, a row each, the newest first. Read afresh: a quote must show at once."""
    return service.quotes(book()).iloc[::-1].reset_index(drop=True)


def say_what_became(quote_id: str, status: str, job: str = "") -> None:
    """Note that a quote was won, lost or withdrawn, and as which job of the book it was done, if one is named."""
    service.say_what_became(book(), quote_id, status, job)


def track_record(build: str) -> TrackRecord:
    """Quoted against done over all jobs of the build. NotEnoughData when no job has both."""
    return service.track_record(book(), Path(build), firm())
