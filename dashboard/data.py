"""Cached reads: the only module here that touches the book. Every read is keyed by the path of the build.

The book's folder comes from the environment variable `SLUDGEBOOK_BOOK`; `sludgebook serve` sets it.
Frames are returned as copies, models and results as shared objects that nobody changes.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd
import streamlit as st

from pipeline.findings import BookError, Finding, SludgebookError

if TYPE_CHECKING:
    from models.catch.job import JobCatch
    from models.catch.result import Watch
    from models.quote.backtest import BackTest
    from models.quote.model import QuoteModel
    from models.quote.result import Quote
    from pipeline.book import Book
    from pipeline.firm import Firm
    from pipeline.load import LoadReport
    from pipeline.mapping import Mapping as Mapped
    from pipeline.mapping_sheet import MappingSheet as MappingSheet

CATCH_TABLES = ("jobs", "ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter")
BOOK_VARIABLE = "SLUDGEBOOK_BOOK"
Rows = Sequence[Mapping[str, Any]]
Uploads = Sequence[tuple[str, bytes]]
State = Literal["not_named", "empty", "broken", "ready"]
EMPTY = "The book is empty: no job has been accepted yet."
ENTRIES = 4
"""Builds kept in memory: the current one, the one before, and room for two readers in between."""

@dataclass(frozen=True, slots=True)
class Shelf:
    """The book as the pages find it: `state`, its build if ready, and a sentence if not."""

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
    from pipeline.book import Book

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
        return Shelf("ready", build) if holdings(build).jobs else Shelf("empty", sentence=EMPTY)
    except SludgebookError as error:
        begun = opened.exists() and (opened.path / "current").is_file()
        broken = begun or opened.path.is_file()
        return Shelf("broken", sentence=str(error)) if broken else Shelf("empty", sentence=EMPTY)


def firm() -> Firm:
    """The settings of the book that is open. SettingsError names every fault of `firm.toml`."""
    return book().firm()


@st.cache_data(max_entries=16 * ENTRIES, show_spinner=False)
def table(build: str, name: str) -> pd.DataFrame:
    """A whole table of a build, in the contract's columns."""
    from pipeline.book import read_table

    return read_table(Path(build), name)


@st.cache_data(max_entries=64 * ENTRIES, show_spinner=False)
def of_job(build: str, name: str, firm_id: str, job_id: str) -> pd.DataFrame:
    """The rows of one job in one table of a build, in their natural order."""
    from pipeline.job_reads import rows_of_job

    return rows_of_job(Path(build), name, firm_id, job_id)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def holdings(build: str) -> Holdings:
    """How much the build holds."""
    jobs = table(build, "jobs")
    visits = pd.to_datetime(jobs["visit_date"]).dropna()
    first, last = (visits.min().date(), visits.max().date()) if len(visits) else (None, None)
    simulated = int(jobs["is_simulated"].fillna(False).astype(bool).sum())
    return Holdings(len(jobs), simulated, len(table(build, "catches")), first, last)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def job_list(build: str) -> pd.DataFrame:
    """One row a job: survey columns, volume, emitter count, outcome and callbacks, newest visit first."""
    key = ["firm_id", "job_id"]
    jobs = table(build, "jobs")
    for name in ("ftr_volume", "ftr_outcome", "ftr_callback"):
        jobs = jobs.merge(table(build, name), on=key, how="left", validate="one_to_one", suffixes=("", f"_{name}"))
    jobs["visit_date"] = pd.to_datetime(jobs["visit_date"])
    return jobs.sort_values(["visit_date", "job_id"], ascending=[False, True], ignore_index=True)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def magnet_curves(build: str) -> pd.DataFrame:
    """Debris curves of every job: the magnet rows of `ftr_catch_curve`, in order of time within a job."""
    curves = table(build, "ftr_catch_curve")
    magnets = curves[(curves["trap"] == "magnet") & curves["minutes_since_start"].notna()]
    columns = ["firm_id", "job_id", "minutes_since_start", "cumulative_magnetite_kg"]
    return magnets[columns].sort_values(["firm_id", "job_id", "minutes_since_start"], ignore_index=True)


def curves_of(build: str, jobs: pd.DataFrame) -> pd.DataFrame:
    """Debris curves of the jobs of a frame."""
    return magnet_curves(build).merge(jobs[["firm_id", "job_id"]], on=["firm_id", "job_id"], validate="many_to_one")


def job_catch(build: str, firm_id: str, job_id: str) -> JobCatch:
    """One job of the book as `watch` takes it, an hour of its crew priced by `firm.toml`."""
    from models.catch.frames import CatchFrames, job_catch

    rates = firm()
    jobs, days, catches, by_emitter, emitters = (of_job(build, name, firm_id, job_id) for name in CATCH_TABLES)
    crew = jobs["crew_size"].fillna(rates.crew_size)
    hourly = rates.hourly_rate * (float(crew.iloc[0]) if len(crew) else rates.crew_size)
    frames = CatchFrames(jobs, days, catches, by_emitter, emitters)
    return job_catch(frames, firm_id, job_id, hourly_cost=hourly, currency=rates.currency)


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def quote_model(folder: str) -> QuoteModel:
    """The quote model kept in a models folder. SludgebookError when it is damaged."""
    from models.quote.train import load_quote

    return load_quote(Path(folder))


def _fitted(build: str) -> Path:
    """The models that serve a build: its own, else the newest learnt from an earlier one."""
    folder = book().fitted_models(Path(build))
    if folder is None:
        raise BookError("The forecasts have not been learnt from these jobs yet.")
    return folder


def why_not_trained(build: str) -> str:
    """Empty when there are forecasts that can be used for this build, else one sentence that says why not."""
    try:
        quote_model(str(_fitted(build)))
    except SludgebookError as error:
        return str(error)
    return ""


def is_own_model(build: str) -> bool:
    """Whether the forecasts in use were learnt from this very build."""
    return book().models_dir(Path(build)) == book().fitted_models(Path(build))


def train(build: str, progress: Callable[[int, int], None]) -> None:
    """Learn the forecasts from a build and keep them with it; what was cached of it is forgotten."""
    from models.quote.train import train_and_store

    train_and_store(
        table(build, "ftr_quote"), table(build, "ftr_outcome"), book().models_dir(Path(build)), progress
    )
    quote_model.clear()
    backtest.clear()


def quote(build: str, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> Quote:
    """The quote of one survey, given as rows of the job log."""
    from models.quote.answer import answer
    from pipeline.book import model_age
    from pipeline.requests import request_features, requests_from_tables

    settings = firm()
    inputs = request_features(requests_from_tables(jobs, emitters, pipe_runs), settings)
    folder = _fitted(build)
    first = answer(quote_model(str(folder)), inputs.features, inputs.volumes, settings)[0]
    return replace(first, findings=(*first.findings, *inputs.findings, *model_age(folder, Path(build))))


def load_files(files: Uploads, mapping: Mapped | None = None) -> LoadReport:
    """Hand uploaded files, as (name, content), in to the book. SludgebookError says why nothing was received.

    A mapping says what the firm's own headings mean; the book keeps it.
    """
    from pipeline.load import load
    from pipeline.uploads import beside_kept, laid_out

    with TemporaryDirectory() as folder:
        mapping_file = beside_kept(mapping, book(), Path(folder)) if mapping is not None else None
        return load(laid_out(files, Path(folder)), book(), mapping_file=mapping_file)


def mapping_sheet(files: Uploads) -> MappingSheet | None:
    """What the firm's own headings in uploaded files may mean, to confirm; None where there is nothing to propose."""
    from pipeline.uploads import sheet_for

    with TemporaryDirectory() as folder:
        return sheet_for(files, Path(folder))


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def open_rejects(build: str) -> pd.DataFrame:
    """Faults of rejected rows that were not handed in again since: file, table, line, column, value, reason."""
    from pipeline.uploads import open_faults

    return pd.DataFrame(open_faults(book()), columns=["file", "table", "line", "column", "value", "reason"])


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def reject_workbook(build: str, batch: str | None) -> bytes:
    """Open rejects of the book, or of one batch, as a workbook with the bad cells marked; empty for none. BadInput."""
    from pipeline.uploads import reject_bytes

    return reject_bytes(book(), batch)


@st.cache_data(max_entries=16 * ENTRIES, show_spinner=False)
def warnings_of(build: str, firm_id: str, job_id: str) -> list[dict[str, Any]]:
    """What deserves a look in one job: table, column, reason and `sentence` of each warning on its rows."""
    from pipeline.row_warnings import warnings_of_job

    return [{**asdict(each), "sentence": each.sentence} for each in warnings_of_job(Path(build), firm_id, job_id)]


@st.cache_data(max_entries=1, show_spinner=False)
def templates() -> dict[str, bytes]:
    """Empty files to fill in, by file name: one CSV a table and one workbook."""
    from pipeline.templates import write_templates

    with TemporaryDirectory() as folder:
        return {path.name: path.read_bytes() for path in write_templates(Path(folder))}


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def backtest(build: str) -> BackTest:
    """The back-test kept with the forecasts of a build. SludgebookError when there is none yet."""
    from models.quote.backtest import BackTest, TargetScores
    from models.quote.train import load_report
    from models.scores import Coverage

    kept = load_report(_fitted(build))["backtest"]
    targets = {}
    for name, scores in kept["targets"].items():
        groups = {group: Coverage(**cover) for group, cover in scores["groups"].items()}
        rest = {**scores, "coverage": Coverage(**scores["coverage"]), "groups": groups, "pit": tuple(scores["pit"])}
        targets[name] = TargetScores(**rest)
    findings = tuple(Finding(**finding) for finding in kept["findings"])
    return BackTest(kept["jobs"], targets, findings)


def watch(job: JobCatch, at: datetime) -> Watch:
    """The catch of one job as it stood at a moment."""
    from models.catch.watch import watch as watch_job

    return watch_job(job, at)


def firm_or_default() -> Firm:
    """The firm's settings, or the defaults while no book is open: entering a job by hand needs no book."""
    from pipeline.firm import Firm

    try:
        return firm()
    except BookError:
        return Firm()
