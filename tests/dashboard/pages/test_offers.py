"""Offers side by side and doses on "Price a job", and in the command."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboard.app_parts.quote.option_parts import dose_rows, offer_name, option_rows, options_sentence
from dashboard.cli.quote import quote
from models.quantiles import Quantiles
from models.quote.model.doses import dose
from models.quote.offers.options import Option
from pipeline.store.book import Book
from tests.dashboard.pages.test_price_page import filled_in

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
SPREAD = Quantiles(1, 1.2, 1.6, 2.0, 2.5, 3.1, 3.6)
TIME = Quantiles(200, 220, 260, 300, 340, 400, 440)


def offer(price: float, days: int = 0, *, filter_: bool = True, asked: bool = False) -> Option:
    return Option(filter_, days, asked, True, price, 1.2 * price, 0.1, 0.8 * price, SPREAD, TIME, 0.02)


def test_the_sentence_names_what_was_asked_and_how_far_the_others_lie() -> None:
    offers = (offer(620, asked=True), offer(515, filter_=False), offer(620, 7), offer(560, 7, filter_=False))

    assert options_sentence(offers, "GBP") == (
        "As asked (new filter, no pre-dose) **£620**; no filter, no pre-dose: £105 less; "
        "new filter, 7 days of pre-dose: the same; no filter, 7 days of pre-dose: £60 less."
    )
    assert option_rows(offers, "GBP")["Price [GBP]"].tolist() == [620, 515, 620, 560]
    assert option_rows(offers, "GBP").iloc[0]["On site"] == "5 h (3 h 40 to 6 h 40)"


def test_where_a_filter_is_there_only_the_predose_is_named() -> None:
    assert offer_name(offer(1, 7, filter_=False), filter_is_there=True) == "7 days of pre-dose"
    assert offer_name(offer(1, filter_=False), filter_is_there=True) == "No pre-dose"


def test_doses_stand_as_litres_and_containers() -> None:
    volume = (76.0, 110.0, 160.0)
    rows = dose_rows({"Cleaner": dose(1.0, volume, 1.0), "Inhibitor": dose(2.0, volume, 0, label_is="least")})

    assert rows.iloc[0].tolist() == ["Cleaner", "the most", "at most 0.76 L", 1.1, 1.6, "2 of 1 L"]
    assert rows.iloc[1].tolist() == ["Inhibitor", "the least", "at least 2.20 L", 2.2, 3.2, "by the litre"]


def test_the_page_shows_the_offers_and_the_doses(open_page: Open, page_book: Book, words: Words) -> None:
    app = filled_in(open_page("price_a_job", page_book.path))

    said = words(app)
    asked = app.session_state["price_further"].options[0]
    assert "Offers side by side" in said
    assert f"As asked (new filter, no pre-dose) **£{asked.price:,.0f}**" in said
    assert asked.price == app.session_state["price_quote"].price.price
    assert "never more than the label's dose for the volume" in said
    assert "test its strength before leaving" in said


def test_the_command_tells_the_offers_and_the_doses_over_the_range(
    page_book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = tmp_path / "one.json"
    asked.write_text(json.dumps({"system_type": "sealed", "emitters": [{"emitter_kind": "panel_22"}] * 9}))

    quote(asked, page_book.path, True)

    line = json.loads(capsys.readouterr().out)
    cleaner, volume = line["volume"]["cleaner"], line["volume"]
    assert [o["is_asked"] for o in line["options"]] == [True, False, False, False]
    assert cleaner["low_l"] == pytest.approx(volume["low_l"] * 0.01)
    assert (cleaner["label_is"], cleaner["first_l"]) == ("most", cleaner["low_l"])
    assert (volume["inhibitor"]["label_is"], volume["inhibitor"]["first_l"]) == ("least", volume["inhibitor"]["mid_l"])
    assert cleaner["low_l"] < cleaner["mid_l"] == volume["cleaner_dose_l"] < cleaner["high_l"]
