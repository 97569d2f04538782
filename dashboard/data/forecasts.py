"""The forecasts that serve a build, kept in memory: learning them, one quote, and how good they are."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.data.opened import ENTRIES, book, firm, firm_or_default
from dashboard.services import apart, quoting, training
from dashboard.services.quoting import Rows
from pipeline.contract.findings import BookError, SludgebookError

if TYPE_CHECKING:
    from models.drift_scan import Drift
    from models.quote.backtest import BackTest
    from models.quote.base.quote_result import Quote, Target
    from models.quote.model.quote_model import QuoteModel
    from models.quote.offers.further import Further

NO_BUILD = ""
"""In place of a build while the book is empty: quotes then come from the rule of the trade."""
NOT_LEARNT = "The forecasts have not been learnt from these jobs yet."


def written_at(folder: Path) -> int:
    """When the newest model in a folder was written [ns]: what is kept of it in memory holds for that one alone,
    whoever learnt it, and in which process."""
    try:
        return max((each.stat().st_mtime_ns for each in folder.glob("*/manifest.json")), default=0)
    except OSError:
        return 0  # who reads the models says what is wrong


def quote_model(folder: Path) -> QuoteModel:
    """The quote model kept in a models folder. SludgebookError when it is damaged."""
    return _quote_model(str(folder), written_at(folder))


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def _quote_model(folder: str, written_at: int) -> QuoteModel:
    from models.quote.model.storage import load_quote

    return load_quote(Path(folder))


@st.cache_resource(max_entries=1, show_spinner=False)
def _typical_rule() -> quoting.Forecaster:
    return quoting.typical_rule()


def forecaster(build: str) -> quoting.Forecaster:
    """What quotes are made by for a build, or for an empty book. BookError where nothing was learnt yet."""
    if build == NO_BUILD:
        return _typical_rule()
    try:
        return quoting.forecaster(book(), Path(build), load=quote_model)
    except quoting.NotLearnt:
        raise BookError(NOT_LEARNT) from None  # the page has a button for it, the command a word


def fitted_models(build: str) -> Path:
    """The models that serve a build: its own, else the newest learnt from an earlier one."""
    try:
        return quoting.fitted_models(book(), Path(build))
    except quoting.NotLearnt:
        raise BookError(NOT_LEARNT) from None


def why_not_trained(build: str) -> str:
    """Empty when there are forecasts that can be used for this build, else one sentence that says why not."""
    try:
        forecaster(build)
    except SludgebookError as error:
        return str(error)
    return ""


def is_own_model(build: str) -> bool:
    """Whether the forecasts in use were learnt from this very build."""
    return build == NO_BUILD or training.is_trained(book(), Path(build))


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
    """Learn the forecasts from a build, in a process of its own, and keep them with it."""
    apart.learn(book().path, Path(build), progress)


def at_work() -> apart.AtWork | None:
    """The heavy work that runs on the open book now."""
    return apart.at_work(book().path)


def quote(build: str, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> Quote:
    """The quote of one survey, given as rows of the job log."""
    settings = firm()
    asked = quoting.inputs_of(jobs, emitters, pipe_runs, settings)
    return next(quoting.quotes(asked, forecaster(build), settings, with_further=False)).quote


def further(build: str, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> Further:
    """What a quote can tell besides its answer, for one survey: offers, other plans, the worth of a water sample."""
    settings = firm()
    asked = quoting.inputs_of(jobs, emitters, pipe_runs, settings)
    return quoting.further(asked, forecaster(build), settings)[0]


def backtest(build: str) -> BackTest:
    """The back-test kept with the forecasts of a build. SludgebookError when there is none yet."""
    return _kept_with(fitted_models(build))[0]


def drift(build: str) -> Mapping[Target, Drift | None]:
    """Whether the newest jobs differ from those before, target by target; empty of a report of an earlier version."""
    return _kept_with(fitted_models(build))[1]


def _kept_with(folder: Path) -> tuple[BackTest, Mapping[Target, Drift | None]]:
    return _report(str(folder), written_at(folder))


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def _report(folder: str, written_at: int) -> tuple[BackTest, Mapping[Target, Drift | None]]:
    return training.backtest(Path(folder)), training.drift(Path(folder))
