"""Jobs of a build for the pages: their list, one job's catch, and what deserves a look."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import streamlit as st

from dashboard.data.opened import ENTRIES, book, firm, of_job, own_view, shelf
from dashboard.kept import Same, kept
from dashboard.services import watching

if TYPE_CHECKING:
    from models.catch.records.job import JobCatch
    from models.catch.records.watch_result import Watch
    from models.catch.stopping.train_stopping import Learnt


def job_list(build: str) -> pd.DataFrame:
    """One row a job: survey columns, volume, emitter count, outcome and callbacks, newest visit first.

    `job_place` numbers the jobs in the order of their keys, as `curves.debris_curves` does.
    """
    return own_view(_job_list(build))


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def _job_list(build: str) -> pd.DataFrame:
    from pipeline.store.book import read_named

    jobs = read_named(Path(build), "reads/job_list")
    jobs["visit_date"] = pd.to_datetime(jobs["visit_date"])
    return jobs


@st.cache_data(max_entries=16 * ENTRIES, show_spinner=False)
def warnings_of(build: str, firm_id: str, job_id: str) -> list[dict[str, Any]]:
    """What deserves a look in one job: table, column, reason and `sentence` of each warning on its rows."""
    from pipeline.checks.row_warnings import warnings_of_job

    return [{**asdict(each), "sentence": each.sentence} for each in warnings_of_job(Path(build), firm_id, job_id)]


def job_of_book(build: str, firm_id: str, job_id: str) -> JobCatch:
    """One job of the book as `watch` takes it, an hour of its crew priced by `firm.toml`."""
    known, settings = past(), firm()
    read = partial(of_job, build, firm_id=firm_id, job_id=job_id)
    key = ("job", build, firm_id, job_id, settings, Same(known.quotes))
    return kept(key, lambda: watching.job_of_book(read, firm_id, job_id, settings, known))


def learnt_models(folder: Path) -> Learnt | None:
    """What is kept of past jobs in a models folder."""
    from dashboard.data.forecasts import written_at

    return _learnt_models(str(folder), written_at(folder))


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def _learnt_models(folder: str, written_at: int) -> Learnt | None:
    from models.catch.stopping.storage import load_catch

    return load_catch(Path(folder))


def past() -> watching.Past:
    """What past jobs of the open book tell a watch, as learnt last; nothing where no book is open."""
    from dashboard.data.forecasts import quote_model
    from dashboard.data.practice import risk_per_kg

    opened = shelf()
    if opened.state != "ready":
        return watching.Past()
    return watching.past(
        book(),
        Path(opened.build),
        load_quote=quote_model,
        load_catch=learnt_models,
        risk=lambda: risk_per_kg(opened.build),
    )


def watch(job: JobCatch, at: datetime) -> Watch:
    """The catch of one job as it stood at a moment, with what was learnt from past jobs of the open book."""
    from dashboard.data.forecasts import written_at

    known, opened = past(), shelf()
    learnt = written_at(book().models_dir(Path(opened.build))) if opened.build else 0
    said = tuple(finding.sentence for finding in known.findings)
    key = ("watch", Same(job), at, Same(known.learnt), said, opened.build, learnt)
    return kept(key, lambda: watching.watch(job, at, known))
