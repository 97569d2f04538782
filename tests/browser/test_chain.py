"""One job from survey to report on a phone: priced, kept, begun, weighed, finished, held against its price, printed."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import pypdfium2
import pytest
from PIL import Image

from pipeline.quotes.kept_quotes import kept_quotes
from pipeline.quotes.quoted_and_done_rows import quoted_and_done
from pipeline.store.book import Book, read_table
from tests.browser.test_on_site import choose, press, unfold, weigh
from tests.browser.test_walk import fill_in_survey, go_to

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
JOB = "Orchard Row"


def clock(page: Page, label: str, at: datetime, at_rest: Rest) -> None:
    """Type a time of day into a field, again where a redraw has taken it away meanwhile."""
    field = page.get_by_label(label, exact=True)
    for _ in range(3):
        at_rest(page)
        field.click()
        page.keyboard.type(f"{at:%H%M}")
        page.keyboard.press("Tab")
        at_rest(page)
        shown = [int(part.get_attribute("aria-valuenow") or -1) for part in field.get_by_role("spinbutton").all()]
        if shown == [at.hour, at.minute]:
            return
    raise AssertionError(f"{label} shows {shown}, not {at:%H:%M}")


def test_a_job_from_survey_to_quoted_and_done_with_nothing_typed_twice(
    own_address: str, open_at: Open, at_rest: Rest, tmp_path: Path
) -> None:
    book, page = Book(tmp_path / "book"), open_at(own_address, "phone")
    price_and_keep(page, at_rest)
    page.clock.set_system_time(datetime.now() + timedelta(hours=1))  # the phone was not put back in autumn
    go_to(page, "Watch the catch", "phone", at_rest)
    begin_from_the_quote(page, at_rest)
    assert [(kept.status, kept.job) for kept in kept_quotes(book)] == [("won", ("own", JOB))]
    name_a_room_and_photograph_it(page, at_rest)
    weigh(page, 640, at_rest)
    page.get_by_text("The clock of a phone is 60 min ahead").wait_for()
    finish_and_read_report(page, at_rest)

    (done,) = [row for row in quoted_and_done(book, book.current()).to_dict("records") if row["job_id"] == JOB]
    (kept,) = kept_quotes(book)
    assert done["quoted_price"] == kept.price
    assert done["magnetite_kg"] == pytest.approx(0.32)  # 640 g wet
    assert done["site_minutes"] > 0
    (caught,) = read_table(book.current(), "catches").query("job_id == @JOB")["caught_at"]
    assert abs(datetime.now() - caught) < timedelta(minutes=5)  # the time of the book's computer
    emitters = read_table(book.current(), "emitters").query("job_id == @JOB")
    assert emitters["room"].dropna().tolist() == ["kitchen"]
    assert emitters["emitter_kind"].isna().all()  # nine were counted: none was made up
    assert len(emitters) == 9
    go_to(page, "Quoted and done", "phone", at_rest)
    page.get_by_text("Of 1 job quoted with a range for 8 in 10").wait_for()


def price_and_keep(page: Page, at_rest: Rest) -> None:
    fill_in_survey(page)
    page.get_by_role("heading", name=re.compile(r"Expect [0-9.]+\skg")).wait_for()
    at_rest(page)
    page.get_by_label("Job", exact=True).fill(JOB)
    page.get_by_role("button", name="Keep this quote").tap()
    page.get_by_text("Kept as Q00001").wait_for()


def begin_from_the_quote(page: Page, at_rest: Rest) -> None:
    page.get_by_text("Today's job", exact=True).tap()
    at_rest(page)
    page.get_by_role("combobox", name="Begin from").tap()
    page.get_by_role("option", name=re.compile("Q00001")).tap()
    at_rest(page)
    now = datetime.now()
    clock(page, "Arrived at", max(now - timedelta(hours=1), now.replace(hour=0, minute=0)), at_rest)
    press(page, "Begin this job", at_rest)
    page.get_by_text("11 emitters").or_(page.get_by_text("9 emitters")).first.wait_for()


def name_a_room_and_photograph_it(page: Page, at_rest: Rest) -> None:
    unfold(page, "Emitters, room by room", at_rest)
    page.get_by_label("Room", exact=True).fill("kitchen")
    page.keyboard.press("Tab")
    at_rest(page)
    press(page, "Save", at_rest)
    press(page, "Change emitter", at_rest)
    press(page, "1 kitchen", at_rest)
    page.get_by_text("flow on kitchen (1)").first.wait_for()
    unfold(page, "Photographs", at_rest)
    picture = BytesIO()
    Image.new("RGB", (300, 200), "brown").save(picture, "JPEG")
    page.locator('input[type=file][accept*=".jpg"]').set_input_files(
        [{"name": "ann archer.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}]
    )
    at_rest(page)
    choose(page, "It shows", "emitter", at_rest)
    press(page, "Keep this photograph", at_rest)
    page.get_by_text("Saved: a photograph of emitter.").wait_for()


def finish_and_read_report(page: Page, at_rest: Rest) -> None:
    unfold(page, "Finish the job", at_rest)
    clock(page, "Left site at", datetime.now() + timedelta(minutes=1), at_rest)
    press(page, "Finish and put it in the book", at_rest)
    page.get_by_text(f"{JOB} is in the book.").wait_for()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Report for the client (PDF)").tap()
    document = pypdfium2.PdfDocument(saved.value.path())
    said = " ".join(part.get_textpage().get_text_range() for part in document)
    assert len(document) <= 2
    assert JOB in said
    assert "0.32 kg" in said.replace("\xa0", " ")
    assert "Kitchen (1)" in said
    assert "Photographs" in said
    assert len(list(document[len(document) - 1].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]))) == 1
