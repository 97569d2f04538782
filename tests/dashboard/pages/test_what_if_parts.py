"""Other plans and the water sample on "Price a job", and where the reader is brought after asking."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from dashboard.app_parts.quote.what_if import plan_rows, sample_sentence
from models.quote.offers.water_sample import WaterSample
from models.quote.offers.what_if import CAUTION, WhatIf
from pipeline.store.book import Book
from tests.dashboard.pages.test_price_page import filled_in

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]


def test_other_plans_stand_with_their_caution_once(open_page: Open, page_book: Book, words: Words) -> None:
    app = filled_in(open_page("price_a_job", page_book.path))

    said = words(app)
    assert "If it were flushed another way" in said
    assert said.count(CAUTION) == 1
    assert app.session_state["price_further"].what_if


def test_another_measure_can_be_chosen_without_asking_again(open_page: Open, page_book: Book) -> None:
    app = filled_in(open_page("price_a_job", page_book.path))
    before = app.session_state["price_quote"]

    app.segmented_control(key="price_what_if_measure").set_value("magnetite_kg").run()

    assert not app.exception
    assert app.session_state["price_quote"] is before


def test_the_survey_folds_away_below_the_answer_and_keeps_what_was_filled_in(open_page: Open, page_book: Book) -> None:
    app = open_page("price_a_job", page_book.path)
    assert next(e for e in app.expander if e.label == "Survey").proto.expanded

    app = filled_in(app)

    again = next(e for e in app.expander if e.label == "Change the survey")
    assert not again.proto.expanded
    assert app.number_input(key="price_count_panel_22").value == 8


def test_a_refused_survey_stays_open_with_the_reason(open_page: Open, page_book: Book, words: Words) -> None:
    app = filled_in(filled_in(open_page("price_a_job", page_book.path)), cold=12)

    assert "only 8 are counted" in words(app)
    assert not any(heading.value.startswith("Expect ") for heading in app.header)


def test_a_sample_worth_little_is_said_to_be() -> None:
    much = WaterSample(40, 4.0, 3.0, 200.0, 180.0, 500.0, 480.0, 420.0, 560.0)
    little = WaterSample(40, 4.0, 3.95, 200.0, 200.0, 500.0, 500.0, 490.0, 510.0)

    assert "**25 % narrower**: on average" in sample_sentence(much, "GBP")
    assert "between £420 and £560" in sample_sentence(much, "GBP")
    assert "hardly narrower" in sample_sentence(little, "GBP")


def test_the_table_holds_all_that_moves() -> None:
    rows = plan_rows((WhatIf("isolation", None, "groups", 33, 0.123, -5.0, -61.4, 0.012, -40.0),), "EUR")

    assert rows.iloc[0].tolist() == ["Flow: in groups", 0.12, -61, 1.2, -40.0, 33]
    assert "Price before tax [EUR]" in rows.columns
