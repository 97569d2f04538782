"""The simulated world drawn in a real browser on a phone: nothing sticks out, every picture is there."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

OPENED = "/about-the-data?world_show=One+job&world_scenario=pool&world_job=12"
STICKS_OUT = "main => main.scrollWidth - main.clientWidth"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_one_simulated_job_fits_a_phone(
    open_at: Callable[..., Page], at_rest: Callable[[Page], None], address: str, scheme: str
) -> None:
    page = open_at(address + OPENED, "phone", scheme=scheme)
    page.wait_for_selector("h3")
    at_rest(page)

    assert re.match(r"[0-9.]+ kg of [0-9.]+ kg taken out in", page.locator("h3").first.inner_text())
    assert page.get_by_test_id("stMain").evaluate(STICKS_OUT) <= 0
    assert page.locator(".js-plotly-plot").count() == 4
    assert page.get_by_test_id("stException").count() == 0
