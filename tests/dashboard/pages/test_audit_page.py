"""The page Practice audit: its answer, a practice in depth, engineers, what is chosen, and refusals in place."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

from pipeline.store.book import Book

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
Charts = Callable[["AppTest"], dict[str, dict[str, Any]]]


@pytest.fixture(scope="module")
def audit_book(simulated_book: Callable[..., Book]) -> Path:
    """300 jobs: enough for some practices, too few for others. Nothing learnt."""
    return simulated_book(300, 4).path


@pytest.fixture
def page(open_page: Open, audit_book: Path) -> AppTest:
    return open_page("practice_audit", audit_book)


def test_the_answer_comes_first_with_what_it_rests_on(page: AppTest, words: Words, charts: Charts) -> None:
    assert not page.exception
    assert page.title[0].value == "Which practices really cut callbacks?"
    assert "callbacks" in page.header[0].value
    said = words(page)
    assert "debris callbacks within 365 days. Adjusted for what was known at survey" in said
    assert "Jobs left out of all of it" in said or "No job is left out of all of it" in said
    forest = next(chart for alt, chart in charts(page).items() if alt.startswith("Callbacks avoided per 100 jobs, 17"))
    written = [each["text"] for each in forest["layout"]["annotations"] if "<b>" in each.get("text", "")]
    assert len(written) == 17
    assert all("cannot be told yet: " in row or "s callbacks<" in row for row in written)


def test_a_practice_is_opened_with_its_doses_and_what_it_is_worth(page: AppTest, words: Words, charts: Charts) -> None:
    page.selectbox(key="audit_practice").select("predose_days:7|0").run()

    assert not page.exception
    assert page.subheader[0].value.startswith("Pre-dose of about a week: ")
    said = words(page)
    assert "What it is worth" in said
    assert "Left out, " in said
    assert "How much of it" in said
    assert any("What moves what, 21 arrows: House, system, age → Signs at survey" in alt for alt in charts(page))


def test_curves_turn_to_jobs_free_of_callbacks(page: AppTest, charts: Charts) -> None:
    assert any(alt.startswith("Jobs called back for debris by day") for alt in charts(page))

    page.segmented_control(key="audit_kind").select("free of callbacks").run()

    assert not page.exception
    assert any(alt.startswith("Jobs free of debris callbacks in the bare records") for alt in charts(page))


def test_an_engineer_sees_their_own_figures_against_the_expected(page: AppTest, words: Words) -> None:
    engineers = page.selectbox(key="audit_engineer").options
    assert engineers[1:] == sorted(engineers[1:])

    page.selectbox(key="audit_engineer").select(engineers[1]).run()

    assert not page.exception
    assert f"{engineers[1]}: " in words(page)
    assert "were to be expected of these jobs" in words(page) or "too few to say anything fair" in words(page)


def test_a_scope_with_too_few_jobs_says_so_and_how_to_widen_it(page: AppTest, words: Words) -> None:
    years = page.select_slider(key="audit_years").options
    last = int(years[-1])

    page.select_slider(key="audit_years").set_range(last, last).run()
    page.selectbox(key="audit_system").select("open_vented").run()

    assert not page.exception
    said = words(page)
    assert ("Widen **Which jobs** above." in said) == ("This needs at least" in said)
    assert "Which practices really cut callbacks?" in said


def test_the_scope_changes_the_jobs_behind_the_answer(page: AppTest, words: Words) -> None:
    whole = words(page)

    page.selectbox(key="audit_system").select("sealed").run()

    assert not page.exception
    jobs = [
        int(text.split(" jobs, ")[0].rsplit("[", 1)[-1].replace(",", ""))
        for text in (
            next(line for line in said.split("\n") if "Adjusted for what was known" in line)
            for said in (whole, words(page))
        )
    ]
    assert 0 < jobs[1] < jobs[0]


def test_every_number_can_be_kept_with_its_definition(audit_book: Path) -> None:
    from dashboard.words.audit_numbers import COLUMNS, numbers
    from models.practice.audit import audit
    from models.practice.cohort.audited_jobs import PracticeFrames
    from pipeline.store.book import read_table

    names = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
    book = Book(audit_book)
    found = audit(PracticeFrames(*(read_table(book.current(), name) for name in names)), book.firm())

    read = pd.read_csv(io.StringIO(numbers(found).to_csv(index=False)))

    assert list(read.columns) == list(COLUMNS)
    assert read["definition"].notna().all()
    assert set(read.loc[read["part"] == "practice", "of"]) == {each.contrast for each in found.practices}


def test_where_every_practice_is_refused_the_table_says_what_each_lacks(
    open_page: Open, trained_book: Book, words: Words
) -> None:
    app = open_page("practice_audit", trained_book.path)

    assert not app.exception
    assert "No practice has enough comparable jobs yet." in words(app)
    table = app.dataframe[0].value
    assert len(table) == 17
    assert table["Why not told"].str.contains("jobs|callbacks").all()
