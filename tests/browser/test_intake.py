"""Intake in a real browser: a workbook, a broken file, headings of one's own, at a desk and on a phone."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import polars as pl
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
FOREIGN = Path(__file__).parents[1] / "data" / "foreign"
JOBS = {
    "job_id": ["N1", "N2"],
    "system_type": ["sealed", "wood_stove"],
    "visit_date": ["2024-03-04", "2024-03-05"],
    "flush_started_at": ["2024-03-04T09:00", "2024-03-05T09:00"],
    "flush_ended_at": ["2024-03-04T12:00", "2024-03-05T12:00"],
}
CATCHES = {
    "job_id": ["N1", "N1"],
    "catch_no": [1, 2],
    "caught_at": ["2024-03-04T10:00", "2024-03-04T11:00"],
    "trap": ["magnet", "bucket"],
    "mass_g": [420, 210],
}
BROKEN = b"job_id,emitter_no,emitter_kind\nN1,1,panel_22\nN1,2,panel_22,7,8\nN1,3,panel_11\n"


def workbook() -> bytes:
    out = io.BytesIO()
    with pd.ExcelWriter(out, engine="xlsxwriter") as writer:
        pd.DataFrame(JOBS).to_excel(writer, sheet_name="jobs", index=False)
        pd.DataFrame(CATCHES).to_excel(writer, sheet_name="catches", index=False)
    return out.getvalue()


def hand_in(page: Page, at_rest: Rest, **files: bytes) -> None:
    given: list[Any] = [
        {"name": name.replace("__", "."), "mimeType": "application/octet-stream", "buffer": content}
        for name, content in files.items()
    ]
    page.locator("input[type=file]").set_input_files(given)
    at_rest(page)
    page.get_by_role("button", name="Hand them in").click()


def choose(page: Page, label: re.Pattern[str], option: str) -> None:
    """Open a list and choose; open it once more where the page was redrawn just then and shut it."""
    offered = page.get_by_role("option", name=option, exact=True)
    for _ in range(5):
        page.get_by_label(label).click()
        page.wait_for_timeout(1000)
        if offered.is_visible():
            break
    offered.click()


def test_a_workbook_and_a_broken_file_are_accounted_for_row_by_row(
    own_address: str, open_at: Open, at_rest: Rest
) -> None:
    page = open_at(f"{own_address}/intake", "desktop")

    hand_in(page, at_rest, log__xlsx=workbook(), emitters__csv=BROKEN)

    page.get_by_text("4 of 7 rows accepted, 3 rejected").wait_for()
    with page.expect_download() as kept:
        page.get_by_role("button", name="Workbook to mend (XLSX)").click()
    sheets = pl.read_excel(kept.value.path(), sheet_id=0, infer_schema_length=0)
    assert sorted(sheets) == ["catches", "emitters", "jobs"]
    assert sheets["catches"]["reason"].to_list() == ["trap: not one of magnet, strainer, machine_base"]


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_headings_of_ones_own_are_confirmed_on_the_page(
    size: str, own_address: str, open_at: Open, at_rest: Rest
) -> None:
    page = open_at(f"{own_address}/intake", size)

    hand_in(page, at_rest, Flushes__csv=(FOREIGN / "wide_firm" / "Flushes.csv").read_bytes())

    page.get_by_role("heading", name="What do your headings mean?").wait_for()
    at_rest(page)
    assert page.get_by_text("Column 'customer' of Flushes.csv looks private").is_visible()
    widths = page.get_by_test_id("stMain").evaluate("main => [main.scrollWidth, main.clientWidth]")
    assert widths[0] == widths[1]
    page.get_by_text("day first", exact=True).click()
    page.get_by_role("button", name="Use these headings").click()
    page.get_by_text(re.compile("Answer every question first; open is still")).wait_for()

    for answer in ("flush started at", "flush ended at", "none of these: reject such rows", "magnet"):
        page.get_by_text(answer, exact=True).click()
        at_rest(page)
    for what in ("height", "length"):
        choose(page, re.compile(f"Which unit has .rad .n. {what}"), "mm")
        at_rest(page)
    page.get_by_role("button", name="Use these headings").click()
    page.get_by_text("The book keeps these headings").wait_for()
    assert page.get_by_text(re.compile("rows accepted, 1 rejected")).is_visible()
