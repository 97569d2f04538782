"""The page "Price a job": from a survey to kilograms, hours and a price."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.store.book import Book
from tests.dashboard.conftest import opened

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]


def filled_in(app: AppTest, **answers: object) -> AppTest:
    """The form with some answers, handed in."""
    for name, value in {"system_type": "sealed", "count_panel_22": 8, **answers}.items():
        if name == "system_type":
            app.segmented_control(key="price_system_type").set_value(value)
        else:
            app.number_input(key=f"price_{name}").set_value(value)
    return app.button(key="price_submit").click().run()


def kilos_of(app: AppTest) -> float:
    return app.session_state["price_quote"].forecasts["magnetite_kg"].quantiles.p50  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def quoted(page_book: Book) -> Iterator[AppTest]:
    """The page with its quote, for tests that only read it."""
    with pytest.MonkeyPatch.context() as patch:
        yield filled_in(opened(patch, "price_a_job", page_book.path))


def test_a_survey_gets_kilograms_hours_and_a_price(quoted: AppTest, words: Words) -> None:
    app = quoted

    assert not app.exception
    quote = app.session_state["price_quote"]
    assert app.header[0].value.startswith("Expect ")
    assert f"£{quote.price.price:,.0f} before tax" in app.header[0].value
    assert len(app.get("plotly_chart")) == 6
    assert "What to ask" in words(app)


def test_the_cost_stands_part_by_part_with_its_sum(quoted: AppTest) -> None:
    from dashboard.app_parts.quote.quote_parts import cost_rows
    from models.quote.pricing.price import PART_NAMES

    price = quoted.session_state["price_quote"].price

    shown = next(table.value for table in quoted.dataframe if "Part" in table.value)
    assert shown["Part"].tolist() == [*PART_NAMES, "Cost, middle"]
    rows = cost_rows(price)
    assert rows["Amount"].iloc[:-1].sum() == pytest.approx(rows["Amount"].iloc[-1], abs=0.06)  # each to 0.01


def test_more_emitters_never_bring_less_debris(open_page: Open, page_book: Book) -> None:
    app = open_page("price_a_job", page_book.path)
    few, many = (kilos_of(filled_in(app, count_panel_22=count)) for count in (5, 25))

    assert many > few


def test_a_survey_without_the_kind_of_system_is_told_so(open_page: Open, page_book: Book, words: Words) -> None:
    app = filled_in(open_page("price_a_job", page_book.path), system_type=None)

    assert not app.exception
    assert "system_type" in words(app) or "kind of system" in words(app)
    assert "price_quote" not in app.session_state


def test_answers_that_cannot_all_be_true_are_refused(open_page: Open, page_book: Book, words: Words) -> None:
    app = filled_in(open_page("price_a_job", page_book.path), cold=12)

    assert "12 emitters are marked cold, but only 8 are counted." in words(app)
    assert "price_quote" not in app.session_state


def test_a_book_not_learnt_from_offers_to_learn(
    open_page: Open, small_book: Book, words: Words, tmp_path: Path
) -> None:
    shutil.copytree(small_book.path, tmp_path / "book", ignore=shutil.ignore_patterns("models"))

    app = open_page("price_a_job", tmp_path / "book")
    assert "have not been learnt from these jobs yet" in words(app)
    app.button(key="price_learn").click().run(timeout=120)
    filled_in(app)

    assert app.header[0].value.startswith("Expect ")


def test_the_papers_to_keep_hold_the_quote(quoted: AppTest) -> None:
    from dashboard.app_parts.quote.quote_parts import quote_text
    from models.quote.answer import as_json

    quote = quoted.session_state["price_quote"]

    kept = json.loads(json.dumps(as_json(quote), default=str))
    assert kept["magnetite_kg"]["p50"] == pytest.approx(quote.forecasts["magnetite_kg"].quantiles.p50)
    assert f"£{quote.price.price:,.0f}" in quote_text(quote)


def test_an_empty_book_is_priced_by_the_rule_of_the_trade(open_page: Open, tmp_path: Path, words: Words) -> None:
    app = open_page("price_a_job", tmp_path / "new-book")
    assert "No job is on record yet" in words(app)

    app = filled_in(app)

    assert not app.exception
    quote = app.session_state["price_quote"]
    # 8 emitters at 0.12 kg (the typical rule: common practice, no source); 8 in 10 within a factor of ten
    assert quote.forecasts["magnetite_kg"].quantiles.p50 == pytest.approx(8 * 0.12, rel=0.01)
    assert quote.forecasts["magnetite_kg"].quantiles.p90 > 8 * quote.forecasts["magnetite_kg"].quantiles.p10
    assert quote.basis.method == "typical_rule"


def test_a_quote_can_be_kept_and_printed_from_the_page(open_page: Open, page_book: Book, tmp_path: Path) -> None:
    book = tmp_path / "book"
    shutil.copytree(page_book.path, book)
    app = filled_in(open_page("price_a_job", book))
    app.text_input(key="price_keep_job").set_value("A-17")

    app = app.button(key="price_keep").click().run()

    assert not app.exception
    assert "Kept as Q00001" in app.success[0].value
    assert {"price_client_pdf", "price_owner_pdf"} <= {button.key for button in app.get("download_button")}
