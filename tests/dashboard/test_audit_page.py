"""The page Practice audit: its answer, a practice in depth, the refusal of a thin book, and its figures in words."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest

from dashboard.figures import practice_audit as figures
from models.practice.result import Balance, PracticeEffect, RawDifference, Verdict
from models.practice.result_curves import DoseResponse
from pipeline.book import Book

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]


def effect(verdict: Verdict, difference: float = -0.05) -> PracticeEffect:
    raw = RawDifference(0.10, 0.09, 0.01, -0.02, 0.04)
    return PracticeEffect(
        "filter_fitted:on_return|none", "filter_fitted", "on_return", "none", f"Filter, {verdict}", 400, 200, 200, 12,
        22, raw, 0.06, 0.11, difference, difference - 0.03, difference + 0.03, 0.015, 0.001, 0.01, 2.4, 1.6, verdict,
        0.04, 0.05, 900, None,
    )  # fmt: skip


def test_an_effect_is_drawn_as_callbacks_avoided_with_its_interval() -> None:
    assert figures.avoided(effect("cuts callbacks")) == pytest.approx((5.0, 2.0, 8.0))

    figure = figures.forest_figure([effect("cuts callbacks"), effect("cannot be told yet", 0.0)])
    marks = [trace for trace in figure.data if trace.mode == "markers" and trace.marker.symbol in (
        "diamond", "circle-open")]  # fmt: skip

    assert [trace.x[0] for trace in marks] == pytest.approx([5.0, 0.0])
    assert [trace.marker.symbol for trace in marks] == ["diamond", "circle-open"]
    assert "5.0 (2.0 to 8.0), cuts callbacks" in figures.forest_alt([effect("cuts callbacks")])


def test_balance_and_dose_are_told_in_words() -> None:
    balance = (Balance("age_years", "Age", 0.5, 0.04), Balance("ph", "pH", -0.3, -0.06))
    doses = np.array([0.0, 7.0])
    risk, jobs = np.array([0.1, 0.05]), np.array([50, 50])
    rest = [risk] * 6
    dose = DoseResponse("predose_days", "Days of pre-dose", "days", 0.0, doses, jobs, *rest, 0.02)

    assert "0.50 standard deviations before weighting, 0.06 after" in figures.balance_alt(balance)
    assert "0 days: 10.0 %, 7 days: 5.0 %" in figures.dose_alt(dose)


def test_a_book_is_audited_and_a_practice_opened(open_page: Open, trained_book: Book, words: Words) -> None:
    app = open_page("practice_audit", trained_book.path)

    assert not app.exception
    shown = words(app)
    assert "callbacks" in app.header[0].value
    assert "adjusted for what was known at survey" in shown
    assert app.selectbox(key="audit_practice").value == "filter_fitted:on_return|none"


def test_a_narrow_scope_is_answered_or_refused_in_place(open_page: Open, trained_book: Book) -> None:
    app = open_page("practice_audit", trained_book.path)
    years = app.selectbox(key="audit_since").options

    app.selectbox(key="audit_since").select(years[-1]).run()

    assert not app.exception
    assert "Which practices cut callbacks" in app.title[0].value
