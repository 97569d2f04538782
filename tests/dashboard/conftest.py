"""A trained book for the pages, and hand-made results for the figures."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from dashboard.words.wording import NO_BREAK

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

    from models.catch.records.job import JobCatch
    from models.quote.backtest import TargetScores
    from models.quote.base.quote_result import Quote
    from pipeline.store.book import Book

APP = Path(__file__).parents[2] / "dashboard" / "app.py"


@pytest.fixture(scope="session")
def page_book(trained_book: Book) -> Book:
    """A book with 90 simulated jobs, loaded and trained. Read only."""
    return trained_book


@pytest.fixture
def open_page(monkeypatch: pytest.MonkeyPatch) -> Callable[..., AppTest]:
    """Opens a page of the app from its entry point: `open_page("intake", book_path)`; None: no book named."""
    return partial(opened, monkeypatch)


_registered: dict[str, Any] = {}
"""The app's pages as its first run registers them: a later test goes to its page without running the first one."""


def opened(patch: pytest.MonkeyPatch, page: str, book: Path | None, **state: Any) -> AppTest:
    """A page at rest; the book is named in the environment for as long as the patch holds."""
    from streamlit.testing.v1 import AppTest

    if book is None:
        patch.delenv("SLUDGEBOOK_BOOK", raising=False)
    else:
        patch.setenv("SLUDGEBOOK_BOOK", str(book))
    app = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in state.items():
        app.session_state[name] = value
    if page == "price_a_job":
        return app.run()
    if _registered:
        app._registered_pages = dict(_registered)
    else:
        _registered.update(app.run()._registered_pages)
    return app.switch_page(f"app_pages/{page}.py").run()


@pytest.fixture(scope="session")
def words() -> Callable[[AppTest], str]:
    """Everything a page says in text: titles, headings, paragraphs, boxes, metrics."""

    def said(app: AppTest) -> str:
        parts = [e.value for kind in (app.title, app.header, app.subheader, app.markdown) for e in kind]
        parts += [e.value for kind in (app.info, app.warning, app.error, app.success) for e in kind]
        said = "\n".join([*parts, *(f"{m.label}: {m.value}" for m in app.metric)])
        return said.replace(NO_BREAK, " ")

    return said


@pytest.fixture(scope="session")
def charts() -> Callable[[AppTest], dict[str, dict[str, Any]]]:
    """Every chart of a page by its alternative text, as plotly's own JSON. The one place that knows the path."""

    def plain(part: Any) -> Any:
        if isinstance(part, dict) and set(part) == {"dtype", "bdata"}:
            return np.frombuffer(base64.b64decode(part["bdata"]), dtype=part["dtype"]).tolist()
        if isinstance(part, dict):
            return {name: plain(value) for name, value in part.items()}
        return [plain(value) for value in part] if isinstance(part, list) else part

    def found(app: AppTest) -> dict[str, dict[str, Any]]:
        return {chart.proto.alt: plain(json.loads(chart.proto.spec)) for chart in app.get("plotly_chart")}

    return found


@pytest.fixture
def quote() -> Quote:
    """A quote made by hand: log-normal kilograms and hours, a price at 10 % chance of loss, one reason a group."""
    from scipy.stats import norm

    from models.quantiles import LEVELS, Quantiles
    from models.quote.base import quote_result as r

    def forecast(target: r.Target, unit: str, median: float, spread: float) -> r.Forecast:
        at = lambda p: float(median * np.exp(spread * norm.ppf(p)))  # noqa: E731
        return r.Forecast(
            target, unit, Quantiles(*(at(p) for p in LEVELS.values())), tuple(at(p / 100) for p in range(1, 100))
        )

    forecasts = {
        "magnetite_kg": forecast("magnetite_kg", "kg", 2.0, 0.5),
        "non_magnetic_kg": forecast("non_magnetic_kg", "kg", 0.2, 0.6),
        "flush_minutes": forecast("flush_minutes", "min", 240, 0.3),
        "site_minutes": forecast("site_minutes", "min", 320, 0.3),
    }
    curve = tuple(r.PricePoint(300.0 + 10 * i, max(0.0, 1 - i / 40)) for i in range(41))
    cost = Quantiles(310, 330, 380, 450, 560, 660, 690)
    price = r.Price("GBP", 660.0, 792.0, 0.10, 0.2, cost, (r.CostPart("Labour on site", 450.0),), curve, 0.1)
    reasons = (r.Reason("magnetite_kg", "size", 0.8, "kg"), r.Reason("magnetite_kg", "survey signs", -0.3, "kg"))
    why = (r.Why("magnetite_kg", "kg", 1.5, 2.0, reasons),)
    near = tuple(
        r.SimilarJob("own", f"J{i}", 0.1 * i, 10 + i, 12.0, "sealed", 1.5 + 0.4 * i, None, 300.0 + 20 * i)
        for i in range(3)
    )
    basis = r.Basis("boosted", 400, 120, date(2029, 1, 2), date(2031, 6, 5), 0.0)
    volume = r.Volume(76, 100, 133, "emitters_and_pipe_rule", 1.0, 1.0)
    return r.Quote("own", "this-job", forecasts, 0.18, price, volume, why, near, basis)  # type: ignore[arg-type]


@pytest.fixture
def running_job() -> JobCatch:
    """A flush in progress, two emitters, each caught exactly on 1.0 kg · (1 − exp(−x / 20 min)), dry."""
    from models.catch.records.flush_clock import DayOnSite
    from models.catch.records.job import Catch, EmitterFacts, JobCatch

    start = datetime(2031, 3, 4, 9, 0)
    focus = np.arange(0.0, 50.0, 8.0)
    grams = np.diff(1000.0 * -np.expm1(-focus / 20.0))
    catches = [
        Catch(float(48 * e + x), e + 1, float(x), "magnet", float(g))
        for e in (0, 1)
        for x, g in zip(focus[1:], grams, strict=True)
    ]
    catches.append(Catch(70.0, None, None, "strainer", 120.0))
    day = DayOnSite(start, start + timedelta(minutes=96), 0.0)
    facts = (EmitterFacts(1), EmitterFacts(2), EmitterFacts(3))
    return JobCatch("own", "J7", start, None, (day,), tuple(catches), facts, 40.0, "GBP")


@pytest.fixture
def scores() -> TargetScores:
    """Scores made by hand: 81 % and 91 % covered, 20 % better than the best peer; two periods, a drift before the
    second, in which alone the forecast beats its peers."""
    from models.quote.backtest import FoldScores, TargetScores
    from models.scores import Coverage

    folds = (
        FoldScores(date(2030, 1, 1), date(2030, 6, 30), 50, 0.26, {"per_emitter": 0.36, "linear": 0.25}, 0.82, -0.1),
        FoldScores(
            date(2030, 7, 1),
            date(2030, 12, 30),
            50,
            0.22,
            {"per_emitter": 0.36, "linear": 0.35},
            0.80,
            0.0,
            recalibrated=True,
        ),
    )
    groups = {"sealed": Coverage(60, 0.84, 0.93), "open-vented": Coverage(40, 0.765, 0.88)}
    return TargetScores(
        "magnetite_kg",
        "kg",
        100,
        4,
        0.24,
        {"per_emitter": 0.36, "linear": 0.30},
        "linear",
        0.2,
        Coverage(100, 0.81, 0.91),
        groups,
        (12, 8, 10, 9, 11, 10, 10, 13, 9, 8),
        -0.05,
        folds,
        (-0.2, 0.1),
    )
