"""The book that is open, its settings, and whole tables of a build, cached by the path of the build."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pandas as pd
import streamlit as st

from dashboard.services.settings import settings
from pipeline.contract.findings import BookError, SludgebookError

if TYPE_CHECKING:
    from pipeline.contract.firm import Firm
    from pipeline.store.book import Book

BOOK_VARIABLE = "SLUDGEBOOK_BOOK"
State = Literal["not_named", "empty", "broken", "ready"]
EMPTY = "The book is empty: no job has been accepted yet."
ENTRIES = 4
"""Builds kept in memory: the current one, the one before, and room for two readers in between."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """The book as the pages find it: `state`, its build if it has one, and a sentence if not ready."""

    state: State
    build: str = ""
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class Holdings:
    """How much a build holds: jobs, how many are simulated, weighings, and the span of visits."""

    jobs: int
    simulated_jobs: int
    catches: int
    first_visit: date | None
    last_visit: date | None

    @property
    def is_simulated(self) -> bool:
        """Every job was made by the simulator."""
        return 0 < self.jobs == self.simulated_jobs


def book() -> Book:
    """The book named by `SLUDGEBOOK_BOOK`. BookError with the remedy if none is named."""
    from pipeline.store.book import Book

    folder = os.environ.get(BOOK_VARIABLE, "").strip()
    if not folder:
        raise BookError("No book is open; start the dashboard with `sludgebook serve --book BOOK`.")
    return Book(Path(folder))


def shelf() -> Shelf:
    """Whether a book is named, has a build, and can be read; never raises."""
    try:
        opened = book()
    except BookError as error:
        return Shelf("not_named", sentence=str(error))
    try:
        build = str(opened.current())
        return Shelf("ready", build) if holdings(build).jobs else Shelf("empty", build, EMPTY)
    except SludgebookError as error:
        begun = opened.exists() and (opened.path / "current").is_file()
        broken = begun or opened.path.is_file()
        return Shelf("broken", sentence=str(error)) if broken else Shelf("empty", sentence=EMPTY)


def firm() -> Firm:
    """The settings of the book that is open, by which money is written from now on. SettingsError names every fault of
    `firm.toml`."""
    return settings(book())


def firm_or_default() -> Firm:
    """The firm's settings, or the defaults while no book is open: entering a job by hand needs no book."""
    from pipeline.contract.firm import Firm

    try:
        return firm()
    except BookError:
        return Firm()


def own_view(kept: pd.DataFrame) -> pd.DataFrame:
    """A frame kept in memory for all pages, as one page's own: pandas copies what is written to, nothing before."""
    return kept.copy(deep=False)


def table(build: str, name: str) -> pd.DataFrame:
    """A whole table of a build, in the contract's columns."""
    return own_view(_table(build, name))


@st.cache_resource(max_entries=16 * ENTRIES, show_spinner=False)
def _table(build: str, name: str) -> pd.DataFrame:
    from pipeline.store.book import read_table

    return read_table(Path(build), name)


def of_job(build: str, name: str, firm_id: str, job_id: str) -> pd.DataFrame:
    """The rows of one job in one table of a build, in their natural order."""
    return own_view(_of_job(build, name, firm_id, job_id))


@st.cache_resource(max_entries=64 * ENTRIES, show_spinner=False)
def _of_job(build: str, name: str, firm_id: str, job_id: str) -> pd.DataFrame:
    from pipeline.store.job_reads import rows_of_job

    return rows_of_job(Path(build), name, firm_id, job_id)


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def holdings(build: str) -> Holdings:
    """How much the build holds."""
    from pipeline.store.book import read_named

    (held,) = read_named(Path(build), "reads/holdings").to_dict("records")
    first, last = (None if pd.isna(held[name]) else held[name].date() for name in ("first_visit", "last_visit"))
    return Holdings(int(held["jobs"]), int(held["simulated_jobs"]), int(held["catches"]), first, last)
