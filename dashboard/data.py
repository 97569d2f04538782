"""Cached reads: the only module here that touches the book. Every read is keyed by the path of the build.

The book's folder comes from the environment variable `SLUDGEBOOK_BOOK`; `sludgebook serve` sets it.
Frames are returned as copies, models and results as shared objects that nobody changes.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd
import streamlit as st

from models.quantiles import Quantiles
from models.refusals import NotEnoughData
from pipeline.contract import JOB_LOG
from pipeline.findings import BookError, SludgebookError

if TYPE_CHECKING:
    from models.catch.job import JobCatch
    from models.catch.result import Watch
    from models.quote.backtest import BackTest
    from models.quote.result import Quote
    from pipeline.book import Book
    from pipeline.firm import Firm
    from pipeline.load import LoadReport

BOOK_VARIABLE = "SLUDGEBOOK_BOOK"
State = Literal["not_named", "empty", "broken", "ready"]
EMPTY = "The book is empty: no job has been accepted yet."
ENTRIES = 4
"""Builds kept in memory: the current one, the one before, and room for two readers in between."""

LEDGER_COLUMNS = {
    "batch_no": "Batch", "file": "File", "table_name": "Table", "rows": "Rows", "accepted": "Accepted",
    "rejected": "Rejected", "duplicates": "Already there", "waiting": "Waiting", "superseded": "Replaced later",
}  # fmt: skip


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


@dataclass(frozen=True, slots=True)
class UsualJob:
    """Quantiles over finished jobs of what they gave (kg, dry) and took (min); `jobs` have both."""

    magnetite_kg: Quantiles
    site_minutes: Quantiles
    jobs: int


def usual_of(jobs: pd.DataFrame) -> UsualJob:
    """What the jobs of a frame of `job_list` gave and took. NotEnoughData when none has both figures.

    Time on site is the flush where arrival and leaving were not written down.
    """
    site = jobs["site_minutes"].fillna(jobs["flush_minutes"])
    known = jobs["magnetite_kg"].notna() & site.notna()
    if not known.any():
        raise NotEnoughData(what="finished jobs with a weighing", needed=1, found=0)
    mass, time = jobs.loc[known, "magnetite_kg"], site[known]
    return UsualJob(Quantiles.from_sample(mass.to_numpy()), Quantiles.from_sample(time.to_numpy()), int(known.sum()))


def curves_of(build: str, jobs: pd.DataFrame) -> pd.DataFrame:
    """Debris curves of the jobs of a frame."""
    return magnet_curves(build).merge(jobs[["firm_id", "job_id"]], on=["firm_id", "job_id"], validate="many_to_one")


def job_catch(build: str, firm_id: str, job_id: str) -> JobCatch:
    """One job of the book as `watch` takes it, an hour of the crew priced by `firm.toml`."""
    from models.catch.frames import CatchFrames, job_catch

    jobs = table(build, "jobs")
    own = jobs[(jobs["firm_id"] == firm_id) & (jobs["job_id"] == job_id)]
    rates = firm()
    frames = CatchFrames(
        own,
        *(of_job(build, name, firm_id, job_id) for name in ("ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve")),
        of_job(build, "ftr_emitter", firm_id, job_id),
    )
    crew = own["crew_size"].fillna(rates.crew_size).astype(float)
    hourly = rates.hourly_rate * (float(crew.iloc[0]) if len(crew) else rates.crew_size)
    return job_catch(frames, firm_id, job_id, hourly_cost=hourly, currency=rates.currency)


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def quote_model(build: str) -> Any:
    """The quote model fitted on a build; BookError with the remedy when it has not been fitted yet."""
    from models.store import load_model

    return load_model(book().models_dir(Path(build)))


def quote(build: str, *tables: list[dict[str, Any]]) -> Quote:
    """The quote of one survey, given as rows of `jobs`, `emitters` and `pipe_runs`."""
    from models.quote.answer import answer

    from pipeline.requests import request_features, requests_from_tables

    settings = firm()
    inputs = request_features(requests_from_tables(*tables), settings)
    return answer(quote_model(build), inputs.features, inputs.volumes, settings)[0]


def load_files(files: Sequence[tuple[str, bytes]]) -> LoadReport:
    """Hand uploaded files, as (name, content), in to the book. SludgebookError says why nothing was received."""
    from pipeline.load import load

    with TemporaryDirectory() as folder:
        paths = []
        for name, content in files:
            path = Path(folder) / Path(name.replace("\\", "/")).name
            path.write_bytes(content)
            paths.append(path)
        return load(paths, book())


@st.cache_data(max_entries=1, show_spinner=False)
def templates() -> dict[str, bytes]:
    """Empty files to fill in, by file name: one CSV a table and one workbook."""
    from pipeline.templates import write_templates

    with TemporaryDirectory() as folder:
        return {path.name: path.read_bytes() for path in write_templates(Path(folder))}


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def backtest(build: str) -> BackTest:
    """The scores kept with the models of a build. BookError when there are none yet."""
    raise BookError("not written")


def ledger(build: str) -> pd.DataFrame:
    """What became of the rows of each batch, file and table, the newest batch first, in words."""
    rows = table(build, "ledger").sort_values(["batch_no", "file", "table_name"], ascending=[False, True, True])
    return rows.drop(columns=["batch_id"]).rename(columns=LEDGER_COLUMNS)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def filled(build: str) -> pd.DataFrame:
    """Share of rows in which each column of the job log is filled in, the emptiest first; keys left out."""
    rows = []
    for name, logged in JOB_LOG.items():
        held = table(build, name)
        rows += [
            {"Table": name, "Column": column.name, "Known": column.known_by, "Rows": len(held),
             "Filled in [%]": round(100 * float(held[column.name].notna().mean()), 1)}
            for column in logged.columns
            if column.known_by != "key" and len(held)
        ]  # fmt: skip
    return pd.DataFrame(rows).sort_values("Filled in [%]", ignore_index=True)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def visits_by_month(build: str) -> pd.DataFrame:
    """Jobs by month of visit: columns month (first day), real, simulated; months without jobs are there."""
    jobs = table(build, "jobs")
    months = pd.to_datetime(jobs["visit_date"]).dt.to_period("M")
    simulated = jobs["is_simulated"].fillna(False).astype(bool)
    every = pd.period_range(months.min(), months.max(), freq="M")
    split = {"real": ~simulated, "simulated": simulated}
    counts = {name: months[mask].value_counts().reindex(every, fill_value=0) for name, mask in split.items()}
    return pd.DataFrame({"month": every.to_timestamp(), **{name: c.to_numpy() for name, c in counts.items()}})


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def usual_job(build: str) -> UsualJob:
    """What the middle finished job of the book gave and took."""
    return usual_of(job_list(build))


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
