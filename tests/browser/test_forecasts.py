"""How good are the forecasts, in a real browser: the answer first, another forecast picked, the file saved."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]


def test_another_forecast_is_picked_and_every_number_saved(address: str, open_at: Open, at_rest: Rest) -> None:
    page = open_at(f"{address}/forecasts", "phone")
    assert page.get_by_role("heading", name="Of 10 past jobs").is_visible()

    page.get_by_role("radio", name="Time on site").or_(page.get_by_role("button", name="Time on site")).first.click()
    at_rest(page)
    assert page.get_by_text("jobs took", exact=False).first.is_visible()  # the bias is told in minutes now
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    with page.expect_download() as saved:
        page.get_by_role("button", name="Every number, with its definition (CSV)").click()

    rows = list(csv.DictReader(Path(saved.value.path()).read_text(encoding="utf-8").splitlines()))
    assert {"site_minutes", "magnetite_kg"} <= {row["forecast"] for row in rows}
    assert all(row["definition"] and row["unit"] for row in rows)
