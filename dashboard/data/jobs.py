"""Jobs of a build for the pages: their list, their debris curves, one job's catch, and what deserves a look."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import streamlit as st

from dashboard.data.opened import ENTRIES, book, firm, of_job, shelf
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from models.catch.records.job import JobCatch
    from models.catch.records.watch_result import Watch
    from models.catch.stopping.train_stopping import Learnt
    from models.practice.results.curve_results import RiskPerKg

CATCH_TABLES = ("jobs", "ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter", "ftr_quote")
WATCH_TABLES = (*CATCH_TABLES, "readings", "ftr_volume")


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def job_list(build: str) -> pd.DataFrame:
    """One row a job: survey columns, volume, emitter count, outcome and callbacks, newest visit first.

    `job_place` numbers the jobs in the order of their keys, as `curves.debris_curves` does.
    """
    from pipeline.store.book import read_named

    jobs = read_named(Path(build), "reads/job_list")
    jobs["visit_date"] = pd.to_datetime(jobs["visit_date"])
    return jobs


@st.cache_data(max_entries=16 * ENTRIES, show_spinner=False)
def warnings_of(build: str, firm_id: str, job_id: str) -> list[dict[str, Any]]:
    """What deserves a look in one job: table, column, reason and `sentence` of each warning on its rows."""
    from pipeline.checks.row_warnings import warnings_of_job

    return [{**asdict(each), "sentence": each.sentence} for each in warnings_of_job(Path(build), firm_id, job_id)]


def job_catch(build: str, firm_id: str, job_id: str) -> JobCatch:
    """One job of the book as `watch` takes it, an hour of its crew priced by `firm.toml`."""
    from models.catch.records.job_frames import CatchFrames, job_catch

    rates = firm()
    frames = CatchFrames(*(of_job(build, name, firm_id, job_id) for name in WATCH_TABLES))
    crew = frames.jobs["crew_size"].fillna(rates.crew_size)
    hourly = rates.hourly_rate * (float(crew.iloc[0]) if len(crew) else rates.crew_size)
    return expected_of(job_catch(frames, firm_id, job_id, hourly_cost=hourly, currency=rates.currency))


def expected_of(job: JobCatch) -> JobCatch:
    """The job with what the quote expects of it, where the forecasts of the open book can be used."""
    from dashboard.data.forecasts import model_of
    from models.catch.warnings.quote_expectation import with_expected

    try:
        return with_expected([job], model_of(shelf().build))[0]
    except SludgebookError:
        return job  # nothing learnt yet: the warning of too little stays silent


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def learnt_models(folder: str) -> Learnt | None:
    """What is kept of past jobs in a models folder."""
    from models.catch.stopping.storage import load_catch

    return load_catch(Path(folder))


def learnt_catch() -> Learnt | None:
    """How crews of the open book work, as learnt last; None where no book is open or nothing was learnt."""
    opened = shelf()
    folder = book().fitted_models(Path(opened.build)) if opened.state == "ready" else None
    try:
        return None if folder is None else learnt_models(str(folder))
    except SludgebookError:
        return None  # of an older form, or damaged: the watch then says that it stands on the wide beliefs alone


def watch(job: JobCatch, at: datetime) -> Watch:
    """The catch of one job as it stood at a moment, with what was learnt from past jobs of the open book."""
    from models.catch.hour_risk import with_risk
    from models.catch.watch import watch as watch_job

    return with_risk(watch_job(job, at, learnt_catch()), kilogram_risk())


def kilogram_risk() -> RiskPerKg | None:
    """What a kilogram does to callbacks, by the practice audit of the open book; None where it cannot be asked."""
    from dashboard.data.practice import risk_per_kg

    opened = shelf()
    return risk_per_kg(opened.build) if opened.state == "ready" else None
