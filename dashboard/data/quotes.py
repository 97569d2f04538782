"""Quotes kept in the open book, and quoted against done."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.data.forecasts import forecaster
from dashboard.data.opened import book, firm
from dashboard.kept import kept
from dashboard.services import kept_quotes as service
from dashboard.services.quoting import Answer, Rows
from pipeline.quotes.kept_quotes import FOLDER

if TYPE_CHECKING:
    from models.quote.base.quote_result import Quote
    from models.quote.offers.further import Further
    from models.quote.pricing.track_record import TrackRecord
    from pipeline.store.book import Book


def keep_quote(
    build: str, quote: Quote, job: str, jobs: Rows, emitters: Rows, pipe_runs: Rows, further: Further | None = None
) -> str:
    """Keep a quote under a job name of the firm's own; its id. BookError when it cannot be written."""
    from pipeline.quotes.requests import requests_from_tables

    named = [[{**row, "job_id": job} for row in rows] for rows in (jobs, emitters, pipe_runs)]
    answer = Answer(replace(quote, job_id=job), further)
    return service.keep(book(), answer, requests_from_tables(*named), forecaster(build).name, firm())


def kept_quotes() -> pd.DataFrame:
    """Every kept quote, a row each, the newest first, as they stand at this moment: a quote must show at once."""
    opened = book()
    read = kept(("quotes", *_as_they_stand(opened)), lambda: service.quotes(opened))
    return read.iloc[::-1].reset_index(drop=True)


def say_what_became(quote_id: str, status: str, job: str = "") -> None:
    """Note that a quote was won, lost or withdrawn, and as which job of the book it was done, if one is named."""
    service.say_what_became(book(), quote_id, status, job)


def track_record(build: str) -> TrackRecord:
    """Quoted against done over all jobs of the build. NotEnoughData when no job has both."""
    opened, settings = book(), firm()
    key = ("track record", build, settings, *_as_they_stand(opened))
    return kept(key, lambda: service.track_record(opened, Path(build), settings))


def _as_they_stand(opened: Book) -> tuple[object, ...]:
    """The book, and every file of a quote with its size and when it was last written."""
    try:
        files = [(each.name, each.stat()) for each in os.scandir(opened.path / FOLDER) if each.name.endswith(".jsonl")]
    except OSError:
        files = []  # none yet, or none that can be read: who reads them says so
    return (str(opened.path), *sorted((name, told.st_size, told.st_mtime_ns) for name, told in files))
