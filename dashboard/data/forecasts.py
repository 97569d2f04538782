"""The forecasts that serve a build: learning them, one quote, and how good they are."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard.data.opened import ENTRIES, book, firm, firm_or_default, table
from pipeline.contract.findings import BookError, SludgebookError

if TYPE_CHECKING:
    from models.drift_scan import Drift
    from models.quote.backtest import BackTest
    from models.quote.base.quote_result import Quote, Target
    from models.quote.model.quote_model import QuoteModel

Rows = Sequence[Mapping[str, Any]]


NO_BUILD = ""
"""In place of a build while the book is empty: quotes then come from the rule of the trade."""


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def quote_model(folder: str) -> QuoteModel:
    """The quote model kept in a models folder; of none, the rule of the trade. SludgebookError when it is damaged."""
    if folder == NO_BUILD:
        from models.quote.without_records import model_without_records

        return model_without_records()
    from models.quote.model.storage import load_quote

    return load_quote(Path(folder))


def model_of(build: str) -> QuoteModel:
    """The quote model that serves a build, or an empty book."""
    return quote_model(NO_BUILD if build == NO_BUILD else str(fitted_models(build)))


def fitted_models(build: str) -> Path:
    """The models that serve a build: its own, else the newest learnt from an earlier one."""
    folder = book().fitted_models(Path(build))
    if folder is None:
        raise BookError("The forecasts have not been learnt from these jobs yet.")
    return folder


def why_not_trained(build: str) -> str:
    """Empty when there are forecasts that can be used for this build, else one sentence that says why not."""
    try:
        model_of(build)
    except SludgebookError as error:
        return str(error)
    return ""


def is_own_model(build: str) -> bool:
    """Whether the forecasts in use were learnt from this very build."""
    return build == NO_BUILD or book().models_dir(Path(build)) == book().fitted_models(Path(build))


def firms(build: str) -> list[str]:
    """The firms with a job in a build, by id."""
    from dashboard.data.jobs import job_list

    return [] if build == NO_BUILD else sorted(job_list(build)["firm_id"].dropna().unique().tolist())


def usual_firm() -> str:
    """The firm that `firm.toml` says a quote is for; empty where it says none, or cannot be read."""
    try:
        return firm_or_default().firm_id
    except SludgebookError:
        return ""  # the quote itself will name the fault


def train(build: str, progress: Callable[[int, int], None]) -> None:
    """Learn the forecasts from a build and keep them with it; what was cached of it is forgotten."""
    from models.practice.cohort.audited_jobs import PracticeFrames
    from models.quote.model.callback_inputs import learn_and_store as learn_returns
    from models.quote.train import train_and_store

    train_and_store(table(build, "ftr_quote"), table(build, "ftr_outcome"), book().models_dir(Path(build)), progress)
    frames = PracticeFrames(*(table(build, name) for name in ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")))
    learn_returns(frames, book().models_dir(Path(build)))
    learn_how_crews_work(build)
    quote_model.clear()
    backtest.clear()
    drift.clear()


def learn_how_crews_work(build: str) -> None:
    """Learn from finished jobs what crews go on to catch, for a watch; under 40 jobs nothing is kept."""
    from dashboard.data.jobs import CATCH_TABLES, learnt_models
    from models.catch.records.job_frames import CatchFrames, job_catches
    from models.catch.stopping.storage import effects_of, learn_and_store

    frames = CatchFrames(*(table(build, name) for name in CATCH_TABLES))
    effects = effects_of(frames.catch_curve, table(build, "readings"))
    learn_and_store(list(job_catches(frames)), book().models_dir(Path(build)), effects=effects)
    learnt_models.clear()


def quote(build: str, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> Quote:
    """The quote of one survey, given as rows of the job log."""
    from models.quote.answer import answer
    from pipeline.quotes.requests import request_features, requests_from_tables
    from pipeline.store.book import model_age

    settings = firm()
    inputs = request_features(requests_from_tables(jobs, emitters, pipe_runs), settings)
    first = answer(model_of(build), inputs.features, inputs.volumes, settings)[0]
    age = () if build == NO_BUILD else model_age(fitted_models(build), Path(build))
    return replace(first, findings=(*first.findings, *inputs.findings, *age))


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def backtest(build: str) -> BackTest:
    """The back-test kept with the forecasts of a build. SludgebookError when there is none yet."""
    from models.quote.backtest import BackTest
    from models.quote.model.storage import load_report

    return BackTest.from_json(load_report(fitted_models(build))["backtest"])


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def drift(build: str) -> dict[Target, Drift | None]:
    """Whether the newest jobs differ from those before, target by target; empty of a report of an earlier version."""
    from models.drift_scan import Drift
    from models.quote.model.storage import load_report

    kept = load_report(fitted_models(build)).get("drift", {})
    return {target: found and Drift.from_json(found) for target, found in kept.items()}
