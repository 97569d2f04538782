"""One job's catch at a moment, with all that past jobs of the book tell of it.

START HERE: `past` (what past jobs tell) → `job_of_book` → `watch`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.services.build_tables import Read, practice_frames, watched_job_frames, whole_tables
from pipeline.contract.findings import Finding, SludgebookError

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.services.quoting import LoadQuote
    from models.catch.records.job import JobCatch
    from models.catch.records.watch_result import Watch
    from models.catch.stopping.train_stopping import Learnt
    from models.practice.results.curve_results import RiskPerKg
    from models.quote.model.quote_model import QuoteModel
    from pipeline.contract.firm import Firm
    from pipeline.store.book import Book

LoadCatch = Callable[[Path], "Learnt | None"]
NOT_USED = "learnt_not_used"
"""Code of the finding that a model was there and could not be used."""


def _not_estimated() -> RiskPerKg | None:
    return None


@dataclass(frozen=True, slots=True, eq=False)
class Past:
    """What past jobs tell a watch; each part None where nothing was learnt. `risk` is asked only where it is needed;
    `findings` say of a model that it was there and could not be used."""

    quotes: QuoteModel | None = None
    learnt: Learnt | None = None
    risk: Callable[[], RiskPerKg | None] = _not_estimated
    findings: tuple[Finding, ...] = ()


def past(
    book: Book,
    build: Path,
    *,
    load_quote: LoadQuote | None = None,
    load_catch: LoadCatch | None = None,
    risk: Callable[[], RiskPerKg | None] | None = None,
) -> Past:
    """What the models that serve a build tell. The loaders and `risk` stand for reading it afresh."""
    asked = risk or (lambda: risk_per_kg(book, build))
    try:
        folder = book.fitted_models(build)
    except SludgebookError as error:
        return Past(risk=asked, findings=(Finding(NOT_USED, str(error), {}),))
    if folder is None:
        return Past(risk=asked)
    from models.catch.stopping.storage import load_catch as read_catch
    from models.quote.model.storage import load_quote as read_quote

    findings: list[Finding] = []
    quotes, learnt = None, None
    try:
        learnt = (load_catch or read_catch)(folder)
    except SludgebookError as error:
        findings.append(Finding(NOT_USED, str(error), {}))
    try:
        quotes = (load_quote or read_quote)(folder)
    except SludgebookError as error:
        findings.append(Finding(NOT_USED, str(error), {}))
    return Past(quotes, learnt, asked, tuple(findings))


def risk_per_kg(book: Book, build: Path, read: Read | None = None) -> RiskPerKg:
    """What one more kilogram taken out does to the risk of a debris callback, from all jobs of a build.

    As it was learnt from this very build; worked out from its tables where nothing was.
    """
    from models.practice.cohort.audited_jobs import gather
    from models.practice.effects.risk_per_kg import risk_per_kg as by_kg
    from models.quote.model.callback_inputs import load_returns

    try:
        found = load_returns(book.models_dir(build))
    except SludgebookError:
        found = None  # damaged: the tables still tell
    if found is not None and found.per_kg is not None:
        return found.per_kg
    return by_kg(gather(practice_frames(read or whole_tables(build))))


def hourly_costs(jobs: pd.DataFrame, firm: Firm) -> list[float]:
    """What an hour of each job's crew costs, in the firm's currency; a crew not logged is the firm's usual one."""
    return (jobs["crew_size"].astype(float).fillna(float(firm.crew_size)) * firm.hourly_rate).tolist()


def hourly_cost(jobs: pd.DataFrame, firm: Firm) -> float:
    """The same of the first job of a frame; of a frame without a row, what an hour of the usual crew costs."""
    return next(iter(hourly_costs(jobs, firm)), firm.hourly_rate * firm.crew_size)


def job_of_book(read: Read, firm_id: str, job_id: str, firm: Firm, known: Past) -> JobCatch:
    """One job as a watch takes it: its hour priced by its crew, with what the quote expects of it where that is known.

    `read` gives the rows of the job. BadInput where there is none, or no start of the flush.
    """
    from models.catch.records.job_frames import job_catch

    frames = watched_job_frames(read)
    cost = hourly_cost(frames.jobs, firm)
    job = job_catch(frames, firm_id, job_id, hourly_cost=cost, currency=firm.currency)
    if known.quotes is None:
        return job
    from models.catch.warnings.quote_expectation import with_expected

    return with_expected([job], known.quotes)[0]


def watch(job: JobCatch, at: datetime | None, known: Past) -> Watch:
    """The catch of a job as it stood at a moment (None: the last one known), with what one more hour does to the risk
    of a callback where the audit tells what a kilogram does."""
    from models.catch.hour_risk import with_risk
    from models.catch.watch import watch as watch_job

    seen = watch_job(job, at, known.learnt)
    if known.findings:
        seen = replace(seen, findings=(*seen.findings, *known.findings))
    return seen if seen.one_more_hour is None else with_risk(seen, known.risk())
