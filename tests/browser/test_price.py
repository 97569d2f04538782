"""Pricing in a real browser: its own address, and the answer before the reader's eyes on a phone."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from models.quote.pricing.price import PART_NAMES
from tests.browser.conftest import PATIENCE_MS, SIZES
from tests.browser.test_walk import fill_in_survey

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, FloatRect, Page

pytestmark = pytest.mark.browser
COST_TABLE = "xpath=//*[text()='What it costs, part by part']/following::*[@data-testid='stDataFrame'][1]"
Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]


@pytest.mark.parametrize("path", ["", "/price-a-job"])
def test_the_page_is_found_at_its_address_and_at_the_bare_one(path: str, address: str, open_at: Open) -> None:
    page = open_at(address + path, "desktop")

    page.wait_for_url("**/price-a-job")
    assert page.get_by_role("button", name="Price this job").is_visible()
    assert page.get_by_text("Page not found").count() == 0
    assert page.get_by_role("link", name="Price a job").count() == 1


@dataclass(frozen=True)
class Priced:
    """A page right after a job was priced, and where it stood then."""

    page: Page
    answer: FloatRect
    screen_height: int
    button_in_sight: bool


@pytest.fixture(scope="module", params=SIZES)
def priced(
    request: pytest.FixtureRequest, address: str, contexts: Callable[[str, str], BrowserContext], at_rest: Rest
) -> Iterator[Priced]:
    page = contexts(request.param, "light").new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(address)
    page.wait_for_selector("h1")
    at_rest(page)
    fill_in_survey(page)
    answer = page.get_by_role("heading", name=re.compile(r"Expect [0-9.]+\skg"))
    answer.wait_for()
    at_rest(page)
    box, screen = answer.bounding_box(), page.viewport_size
    assert box is not None
    assert screen is not None
    yield Priced(page, box, screen["height"], page.get_by_role("button", name="Price this job").is_visible())
    page.close()


def test_the_reader_is_brought_to_the_answer(priced: Priced) -> None:
    assert 0 <= priced.answer["y"]
    assert priced.answer["y"] + priced.answer["height"] <= priced.screen_height
    assert not priced.button_in_sight


def test_every_row_of_the_cost_is_in_sight(priced: Priced, at_rest: Rest) -> None:
    page = priced.page
    page.get_by_text("What it costs, part by part").scroll_into_view_if_needed()
    at_rest(page)
    box = page.locator(COST_TABLE).bounding_box()

    assert box is not None
    assert box["height"] >= 35 * (len(PART_NAMES) + 2)  # a heading, every part, their sum; a row is 35 px high
