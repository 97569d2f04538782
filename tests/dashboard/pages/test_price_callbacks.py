"""Callbacks that a price counts, on "Price a job" and in the command: told, refused, in a book that tells nothing."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from dashboard.cli.quote import quote
from models.practice.results.curve_results import RiskPerKg
from models.quote.base.callback_cost import CallbackRate
from models.quote.model.callback_inputs import Returns, Usual, store_returns
from models.quote.model.flush_ways import usual_ways
from models.survey_features import encode
from pipeline.store.book import Book, read_table
from tests.dashboard.pages.test_price_page import filled_in

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
TOLD = RiskPerKg(-0.04, -0.06, -0.02, 365, 2000, 1.5, 40.0)
REFUSED = RiskPerKg(None, None, None, 365, 2000, 1.5, 4.0, "The ways of flushing moved the kilograms too little.")
REQUEST = {"system_type": "sealed", "isolation": "one_at_a_time", "emitters": [{"emitter_kind": "panel_22"}] * 9}


@pytest.fixture
def book_with(page_book: Book, tmp_path: Path) -> Callable[[RiskPerKg], Book]:
    """The page's book as if it told this of a kilogram."""

    def made(per_kg: RiskPerKg) -> Book:
        shutil.copytree(page_book.path, tmp_path / "book")
        book = Book(tmp_path / "book")
        build = book.current()
        usual = Usual(CallbackRate(2000, 240, 0.12, 0.10, 0.14), usual_ways(encode(read_table(build, "ftr_quote"))))
        store_returns(Returns(usual, per_kg), book.models_dir(build))
        return book

    return made


def asked(book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str], as_json: bool) -> str:
    (tmp_path / "one.json").write_text(json.dumps(REQUEST), encoding="utf-8")
    quote(tmp_path / "one.json", book.path, as_json)
    return capsys.readouterr().out


def test_the_page_shows_what_another_way_of_flushing_does_to_callbacks(
    open_page: Open, book_with: Callable[[RiskPerKg], Book], words: Words
) -> None:
    app = filled_in(open_page("price_a_job", book_with(TOLD).path))

    assert not app.exception
    counted = app.session_state["price_quote"].price.callbacks
    assert f"For this plan {100 * counted.chance:.1f} in 100 are counted" in words(app)
    assert "Callbacks counted in 100 such jobs" in words(app)
    app.segmented_control(key="price_what_if_measure").set_value("callbacks").run()
    assert not app.exception
    assert any("Callbacks [jobs in 100]" in table.value for table in app.dataframe)


def test_where_a_kilogram_cannot_be_told_the_page_says_so_once(
    open_page: Open, book_with: Callable[[RiskPerKg], Book], words: Words
) -> None:
    app = filled_in(open_page("price_a_job", book_with(REFUSED).path))

    assert words(app).count(REFUSED.refused) == 1
    assert "All count the same callbacks" in words(app)
    assert app.session_state["price_quote"].price.callbacks.chance == 0.12
    assert "callbacks" not in app.segmented_control(key="price_what_if_measure").options


def test_the_command_tells_chance_change_and_interval_of_quote_offers_and_plans(
    book_with: Callable[[RiskPerKg], Book], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line: dict[str, Any] = json.loads(asked(book_with(TOLD), tmp_path, capsys, True))

    counted, change = line["price"]["callbacks"], line["price"]["callbacks"]["change"]
    assert counted["chance"] == pytest.approx(0.12 - 0.04 * change["kilograms"])
    assert sorted((change["low"], change["high"])) == pytest.approx(
        sorted((-0.06 * change["kilograms"], -0.02 * change["kilograms"]))
    )
    week = next(each for each in line["options"] if each["predose_days"] == 7 and each["new_filter"])
    plan = next(each for each in line["what_if"] if each["instead"] == "7")
    assert week["callback_chance"] == pytest.approx(counted["chance"] + week["callback_change"]["change"])
    assert plan["callback_change"]["change"] == pytest.approx(week["callback_change"]["change"])


def test_the_command_in_words_says_why_a_plan_moves_nothing(
    book_with: Callable[[RiskPerKg], Book], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = asked(book_with(REFUSED), tmp_path, capsys, False)

    assert "callbacks counted  12.0% of such jobs" in said
    assert REFUSED.refused in said
