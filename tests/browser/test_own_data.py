"""A firm's first quarter of an hour in a real browser: an empty book, a folder of CSV files, the first debris curve."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import served

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
HAND_WRITTEN = Path(__file__).parents[1] / "data" / "hand_written"


@pytest.fixture
def new_address(tmp_path: Path) -> Iterator[str]:
    """The dashboard over a book that is not there yet."""
    with served(tmp_path / "my-book") as url:
        yield url


def test_a_folder_of_csv_files_handed_in_ends_in_the_first_debris_curve(
    new_address: str, open_at: Open, at_rest: Rest
) -> None:
    page = open_at(f"{new_address}/intake", "desktop")
    page.get_by_text("Nothing is in the book yet: 0 jobs.").wait_for()

    page.locator("input[type=file]").set_input_files(sorted(HAND_WRITTEN.glob("*.csv")))
    at_rest(page)
    page.get_by_role("button", name="Hand them in").click()
    page.get_by_text("5 rejected").wait_for()
    page.get_by_text("The book holds 10 jobs").wait_for()

    page.goto(f"{new_address}/job-book")
    page.get_by_role("heading", name="What did past jobs give?").wait_for()
    at_rest(page)
    page.get_by_text("10 jobs: the middle one gave").wait_for()
    page.locator(".js-plotly-plot .scatterlayer .trace").first.wait_for()
