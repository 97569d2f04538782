"""Every page opens from the entry point, answers with a real number, and says what to do when it cannot."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from pipeline.store.book import Book, read_table
from tests.dashboard.conftest import opened

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
Charts = Callable[["AppTest"], dict[str, dict[str, Any]]]

PAGES = sorted(p.stem for p in (Path(__file__).parents[3] / "dashboard" / "app_pages").glob("*.py"))
WITH_CHARTS = [page for page in PAGES if page not in ("intake", "price_a_job")]
NUMBER = re.compile(r"\d")


@pytest.fixture(scope="module")
def shown(page_book: Book) -> Iterator[Callable[[str], AppTest]]:
    """Each page over the trained book, drawn once for all tests that only read it."""
    with pytest.MonkeyPatch.context() as patch:
        yield cache(lambda page: opened(patch, page, page_book.path))


@pytest.mark.parametrize("page", PAGES)
def test_a_page_asks_one_question_and_answers_first_with_a_number(page: str, shown: Callable[[str], AppTest]) -> None:
    app = shown(page)

    assert not app.exception
    assert len(app.title) == 1
    assert app.title[0].value.endswith("?")
    assert NUMBER.search(app.header[0].value)


@pytest.mark.parametrize("page", PAGES)
def test_every_page_says_that_the_book_is_simulated(page: str, shown: Callable[[str], AppTest], words: Words) -> None:
    assert "Every job in this book is simulated" in words(shown(page))


@pytest.mark.parametrize("page", WITH_CHARTS)
def test_every_chart_has_words_units_and_a_table(page: str, shown: Callable[[str], AppTest], charts: Charts) -> None:
    app = shown(page)

    found = charts(app)
    assert found
    assert all(NUMBER.search(alt) for alt in found)
    assert len(app.dataframe) >= len(found)
    for spec in found.values():
        titles = [axis["title"].get("text", "") for name, axis in spec["layout"].items() if name[1:5] == "axis"]
        assert any("[" in title for title in titles) or any(title == "Time of day" for title in titles)


@pytest.mark.parametrize("page", PAGES)
def test_without_a_book_a_page_says_how_to_open_one(page: str, open_page: Open, words: Words) -> None:
    app = open_page(page, None)

    assert not app.exception
    assert "No book is open" in words(app)
    assert "sludgebook" in words(app)


@pytest.mark.parametrize("page", [page for page in PAGES if page not in ("intake", "price_a_job", "watch_the_catch")])
def test_an_empty_book_leads_to_the_intake(page: str, open_page: Open, words: Words, tmp_path: Path) -> None:
    app = open_page(page, tmp_path / "new-book")

    assert not app.exception
    assert "The book is empty" in words(app)
    assert "With jobs in the book, this page shows" in words(app)


def test_the_intake_of_an_empty_book_is_ready_for_files(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = open_page("intake", tmp_path / "new-book")

    assert not app.exception
    assert "0 jobs" in words(app)
    assert "Empty files to fill in" in words(app)


@pytest.mark.parametrize("page", PAGES)
def test_a_damaged_book_is_one_sentence(page: str, open_page: Open, words: Words, tmp_path: Path) -> None:
    (tmp_path / "received").mkdir()
    (tmp_path / "builds").mkdir()
    (tmp_path / "builds" / "x.duckdb").write_bytes(b"no database")
    (tmp_path / "current").write_text("x.duckdb\n")

    app = open_page(page, tmp_path)

    assert not app.exception
    assert "is damaged" in words(app)


def test_the_job_book_shows_what_the_middle_job_gave(shown: Callable[[str], AppTest], page_book: Book) -> None:
    app = shown("job_book")

    middle = read_table(page_book.current(), "ftr_outcome")["magnetite_kg"].median()
    said = re.search(r"gave ([0-9.]+)\skg", app.header[0].value)
    assert said
    assert float(said[1]) == pytest.approx(middle, rel=0.06)  # two figures are shown


def test_the_job_book_lays_groups_side_by_side_and_says_that_practice_is_not_told_by_it(
    open_page: Open, page_book: Book, words: Words
) -> None:
    app = open_page("job_book", page_book.path)
    app.button_group(key="book_by").set_value("Isolation").run()
    app.button_group(key="book_view").set_value("Share of total").run()

    assert not app.exception
    said = words(app)
    assert "**One at a time**: the middle one had half of it after" in said
    assert "Practice audit" in said
    jobs = read_table(page_book.current(), "jobs")["isolation"].value_counts()
    groups = next(each.value for each in app.dataframe if "Group" in each.value)
    assert dict(zip(groups["Group"], groups["Jobs"], strict=True))["one at a time"] == jobs["one_at_a_time"]


def test_about_the_data_counts_the_jobs_and_explains_every_table(open_page: Open, page_book: Book) -> None:
    app = open_page("about_the_data", page_book.path)

    assert "90 jobs" in app.header[0].value
    app.selectbox(key="about_table").select("ftr_quote").run()
    glossary = app.dataframe[-1].value
    assert "system_volume_l" in glossary["Column"].tolist()


def test_the_forecasts_page_shows_the_stored_scores(shown: Callable[[str], AppTest], page_book: Book) -> None:
    from models.quote.model.storage import load_report

    app = shown("forecasts")

    kept = load_report(page_book.models_dir(page_book.current()))["backtest"]["targets"]
    table = app.dataframe[-1].value
    assert len(table) == len(kept)
    assert table["In the 80 % range [%]"].iloc[0] == pytest.approx(
        100 * kept["magnetite_kg"]["coverage"]["share_80"], abs=0.05
    )  # one decimal is shown


def test_the_forecasts_page_answers_and_tells_every_part(shown: Callable[[str], AppTest], words: Words) -> None:
    app = shown("forecasts")

    assert not app.exception
    assert app.header[0].value.startswith("Of 10 past jobs, this many landed in the range that said 8:")
    said = words(app)
    parts = ("limits of chance", "Outcomes", "best simple rule", "Better than every", "The newest ", "set the ranges")
    assert [part for part in parts if part not in said] == []
    assert {button.key for button in app.get("download_button")} >= {"forecasts_numbers", "forecasts_all_csv"}
    assert len(app.get("plotly_chart")) == 5


@pytest.fixture(scope="module")
def one_job_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """A book with a single job of a firm's own: surveyed and flushed, nothing weighed, nothing read."""
    from pipeline.intake.load import load

    folder = tmp_path_factory.mktemp("one")
    head = "job_id,system_type,visit_date,flush_started_at,flush_ended_at"
    row = "A1,sealed,2024-03-04,2024-03-04T09:00,2024-03-04T12:00"
    (folder / "jobs.csv").write_text(f"{head}\n{row}\n", encoding="utf-8")
    book = Book(folder / "book")
    load([folder / "jobs.csv"], book)
    return book


LITTLE = {
    "price_a_job": "at least 1 finished job with a weighing; there are 0",
    "watch_the_catch": "No job in this book has a weighing yet.",
    "job_book": "at least 1 finished job with a weighing; there are 0",
    "intake": "The book holds 1 job",
    "forecasts": "have not been learnt from these jobs yet",
    "about_the_data": "None of them is simulated.",
    "quoted_and_done": "at least 1 job with a quoted price and its time on site; there are 0",
    "practice_audit": "Hand in `callbacks` and `followed_until` with the jobs",
}


@pytest.mark.parametrize("page", PAGES)
def test_with_very_little_data_a_page_says_what_is_missing(
    page: str, open_page: Open, one_job_book: Book, words: Words
) -> None:
    app = open_page(page, one_job_book.path)

    assert not app.exception
    assert LITTLE[page] in words(app)
    assert "Every job in this book is simulated" not in words(app)
