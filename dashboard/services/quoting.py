"""Quotes of requests: by the model that serves the book, or by the rule of the trade where it holds no job yet.

START HERE: `request_features` (of the pipeline) → `forecaster` → `quotes`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract.findings import BookError, Finding
from pipeline.contract.plain_names import as_typed

if TYPE_CHECKING:
    from models.quote.base.quote_result import Quote
    from models.quote.model.quote_model import QuoteModel
    from models.quote.offers.further import Further
    from pipeline.contract.firm import Firm
    from pipeline.quotes.requests import QuoteInputs
    from pipeline.store.book import Book

Rows = Sequence[Mapping[str, Any]]
LoadQuote = Callable[[Path], "QuoteModel"]

AT_ONCE = 2000
"""Requests answered together: enough to be quick, few enough for a small computer's memory."""
TYPICAL_RULE = "typical rule"
"""In place of the name of a model, where a book holds no job."""


class NotLearnt(BookError):
    """The book holds jobs, but nothing was learnt from any of its builds."""


@dataclass(frozen=True, slots=True, eq=False)
class Forecaster:
    """What quotes are made by: the model, its name as a kept quote holds it, and what is to be said of its age."""

    model: QuoteModel
    name: str
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """One quote with every finding on it, and, where asked for, offers, other plans, the worth of a water sample."""

    quote: Quote
    further: Further | None = None

    def as_json(self) -> dict[str, Any]:
        """As plain data, in the documented shape of the `quote` command."""
        from models.quote.answer import as_json

        return as_json(self.quote) | (self.further.as_json() if self.further else {})


def forecaster(book: Book, build: Path | None = None, load: LoadQuote | None = None) -> Forecaster:
    """The model that serves a build (None: the current one): its own, else the newest learnt from an earlier one.

    Of a book without a job the rule of the trade. NotLearnt where there are jobs and no model; SludgebookError where
    the model cannot be used. `load` reads the model of a folder.
    """
    from pipeline.store.book import model_age

    if build is None and book.is_empty():
        return typical_rule()
    build = build or book.current()
    folder = book.fitted_models(build)
    if folder is None and not _has_jobs(build):
        return typical_rule()
    folder = fitted_models(book, build)
    return Forecaster((load or _load)(folder), folder.name, model_age(folder, build))


def typical_rule() -> Forecaster:
    """The rule of common practice, with its wide ranges."""
    from models.quote.without_records import model_without_records

    return Forecaster(model_without_records(), TYPICAL_RULE)


def fitted_models(book: Book, build: Path) -> Path:
    """The folder of models that serve a build. NotLearnt where there is none."""
    folder = book.fitted_models(build)
    if folder is None:
        raise NotLearnt(
            f"No model is fitted for this book yet; run `sludgebook train --book {as_typed(book.path)}` first."
        )
    return folder


def quotes(asked: QuoteInputs, by: Forecaster, firm: Firm, *, with_further: bool | None = None) -> Iterator[Answer]:
    """One answer a request, in the order asked; findings on the requests and on the model's age stand on each.

    `with_further` adds offers, other plans and the worth of a water sample; None: only where the requests are few.
    """
    from models.quote.answer import answer
    from models.quote.offers.further import A_FEW

    wanted = len(asked.features) <= A_FEW if with_further is None else with_further
    notes = (*asked.findings, *by.findings)
    for first in range(0, len(asked.features), AT_ONCE):
        some = replace(asked, features=asked.features[first : first + AT_ONCE])
        more = further(some, by, firm) if wanted else []
        for quote, added in zip_longest(answer(by.model, some.features, asked.volumes, firm), more):
            own = asked.of_job(quote.firm_id, quote.job_id)
            yield Answer(replace(quote, findings=(*own, *quote.findings, *notes)), added)


def further(asked: QuoteInputs, by: Forecaster, firm: Firm) -> list[Further]:
    """Offers, other plans and the worth of a water sample alone, one a request; none with a cleaning chemical where an
    exchanger is aluminium."""
    from models.quote.offers.further import further as work_out

    without = replace(firm, label_max_days=0)
    keys = zip(asked.features["firm_id"], asked.features["job_id"], strict=True)
    firms = [without if any(f.code == "aluminium" for f in asked.of_job(*key)) else firm for key in keys]
    if all(one is firm for one in firms):
        return work_out(by.model, asked.features, asked.volumes, firm)
    rows = [asked.features[number : number + 1] for number in range(len(firms))]
    return [work_out(by.model, row, asked.volumes, one)[0] for row, one in zip(rows, firms, strict=True)]


def inputs_of(jobs: Rows, emitters: Rows, pipe_runs: Rows, firm: Firm) -> QuoteInputs:
    """Features and volumes of surveys given as rows of the job log. BadInput names every fault."""
    from pipeline.quotes.requests import request_features, requests_from_tables

    return request_features(requests_from_tables(jobs, emitters, pipe_runs), firm)


def _load(folder: Path) -> QuoteModel:
    from models.quote.model.storage import load_quote

    return load_quote(folder)


def _has_jobs(build: Path) -> bool:
    from pipeline.store.book import read_named

    return bool(read_named(build, "reads/holdings")["jobs"].iloc[0])
