"""A whole job on phones 360 px wide, by touch: two of them at once, one closed and opened again, the server killed."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import read_site_job
from pipeline.quotes.kept_quotes import keep_quote
from pipeline.store.book import Book, read_table
from tests.browser.conftest import COMMAND, _wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
JOB = "Mill Lane"


@contextmanager
def killed_at_the_end(book: Path, port: int) -> Iterator[str]:
    """A server that is killed outright, with all it started: what a flat battery does."""
    command = [COMMAND, "serve", "--book", str(book), "--port", str(port), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    try:
        _wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        yield f"http://127.0.0.1:{port}/watch-the-catch"
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(timeout=30)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Book, str]]:
    """A book with a job begun and a quote kept, and the page over it; a server for all who need no other."""
    book = Book(tmp_path_factory.mktemp("site") / "book")
    begin(book)
    asked = {
        "jobs": [{"firm_id": "own", "job_id": "Orchard Row", "system_type": "sealed", "heat_source": "boiler"}],
        "emitters": [{"emitter_no": n, "emitter_kind": "panel_22"} for n in range(1, 5)],
    }
    answer = {"firm_id": "own", "job_id": "Orchard Row", "price": {"price": 500.0, "currency": "GBP"}}
    keep_quote(book, answer, asked, model="m", valid_until=date.today() + timedelta(days=30))
    with killed_at_the_end(book.path, free_port()) as url:
        yield book, url


@pytest.fixture
def begun(tmp_path: Path) -> Book:
    """A book with one job begun an hour ago."""
    return begin(Book(tmp_path / "book"))


def begin(book: Book) -> Book:
    began = datetime.now().replace(microsecond=0) - timedelta(hours=1)
    facts = {
        "job": {"system_type": "sealed"},
        "emitters": [{"emitter_no": n} for n in range(1, 7)],
        "flush_started_at": began,
    }
    record(book, JOB, "start", facts, Sender("start"), now=began)
    return book


def choose(page: Page, label: str, option: str, at_rest: Rest) -> None:
    page.get_by_role("combobox", name=label).first.tap()
    page.get_by_role("option", name=option, exact=True).tap()
    at_rest(page)


def press(page: Page, name: str, at_rest: Rest) -> None:
    page.get_by_role("button", name=name, exact=True).tap()
    at_rest(page)


def unfold(page: Page, name: str, at_rest: Rest) -> None:
    page.get_by_text(name, exact=True).tap()
    at_rest(page)


def weigh(page: Page, grams: int, at_rest: Rest) -> None:
    press(page, "Weigh a catch", at_rest)
    page.get_by_label("Mass [g]").fill(str(grams))
    press(page, "Save this catch", at_rest)
    page.get_by_text(re.compile(rf"Saved \d\d:\d\d: {grams} g wet")).wait_for()


def masses(book: Book) -> list[float]:
    return [event.of["mass_g"] for event in read_site_job(book, JOB).all_of("catch")]


def test_a_job_played_on_two_phones_through_a_closed_tab_and_a_killed_server(
    begun: Book, port: int, open_at: Open, at_rest: Rest
) -> None:
    with killed_at_the_end(begun.path, port) as url:
        one, two = open_at(url, "phone"), open_at(url, "phone")
        weigh(one, 640, at_rest)
        two.get_by_text("0.32 kg").first.wait_for()  # the other phone sees it by itself: 640 g wet
        press(two, "Change emitter", at_rest)
        press(two, "3", at_rest)
        one.get_by_text("flow on emitter 3").first.wait_for()
        one.close()
        weigh(two, 410, at_rest)
    with killed_at_the_end(begun.path, port) as url:
        again = open_at(url, "phone")
        assert masses(begun) == [640, 410]
        press(again, "Undo", at_rest)
        again.get_by_text(re.compile(r"Saved \d\d:\d\d: taken back")).wait_for()
        finish(again, at_rest)
    jobs = read_table(begun.current(), "ftr_outcome")
    assert jobs[["job_id", "magnetite_kg"]].to_numpy().tolist() == [[JOB, pytest.approx(0.32)]]


def finish(page: Page, at_rest: Rest, job: str = JOB) -> None:
    if not page.get_by_text("Inhibitor dosed").is_visible():  # it stays unfolded where it was before
        unfold(page, "Finish the job", at_rest)
    page.get_by_text("Inhibitor dosed").tap()
    at_rest(page)
    press(page, "Finish and put it in the book", at_rest)
    page.get_by_text(f"{job} is in the book.").wait_for()


def test_thumbs_find_everything_they_need(site: tuple[Book, str], open_at: Open, at_rest: Rest) -> None:
    """Targets of 48 px and more, within the lower half of the screen; nothing beside the screen."""
    page = open_at(site[1], "phone")
    bar = [
        page.get_by_role("button", name=name, exact=True).bounding_box()
        for name in ("Weigh a catch", "Note a reading", "Change emitter", "Undo")
    ]
    press(page, "Weigh a catch", at_rest)
    form = page.locator(".st-key-site_form button:visible").evaluate_all(
        "all => all.filter(b => b.innerText.trim()).map(b => b.getBoundingClientRect().toJSON())"
    )
    widths = page.get_by_test_id("stMain").evaluate("main => [main.scrollWidth, main.clientWidth]")
    keyboard = page.get_by_label("Mass [g]").evaluate("i => i.inputMode || i.type")
    assert all(box is not None and box["height"] >= 48 and box["y"] > 370 for box in bar)
    assert len(form) >= 6
    assert [b for b in form if b["height"] < 48 or b["width"] < 48 or b["right"] > 360] == []
    assert widths == [360, 360]
    assert keyboard in ("decimal", "numeric", "number")


def test_save_stays_in_sight_and_fields_are_as_high_as_a_thumb(
    site: tuple[Book, str], open_at: Open, at_rest: Rest
) -> None:
    page = open_at(site[1], "phone")
    press(page, "Weigh a catch", at_rest)
    unfold(page, "Dry, or a while ago", at_rest)
    box = page.get_by_role("button", name="Save this catch", exact=True).bounding_box()
    fields = page.locator(
        '.stSelectbox [role="group"], .stNumberInput [data-testid="stNumberInputContainer"], .stCheckbox label, '
        '[data-testid="stTextInputRootElement"], [data-testid="stTimeInputTimeDisplay"]'
    ).evaluate_all("all => all.map(e => e.getBoundingClientRect().height).filter(h => h > 0)")

    assert box is not None
    assert box["y"] + box["height"] <= 740
    assert len(fields) >= 3
    assert min(fields) >= 48


def channels() -> bytes:
    """A logger's rows of the last half hour, or of a younger day, under headings that say nothing."""
    now = datetime.now().replace(microsecond=0)
    first = max(now - timedelta(minutes=30), datetime.combine(now.date(), datetime.min.time()))
    step = max((now - first) // 30, timedelta(seconds=1))
    lines = [f"{first + m * step:%Y-%m-%d %H:%M:%S};{20 + m % 2}" for m in range(30)]
    return "\n".join(["t;K1", *lines]).encode()


def test_a_job_from_its_kept_quote_to_a_correction(site: tuple[Book, str], open_at: Open, at_rest: Rest) -> None:
    """Begun from the quote, a logger's file attached whose headings are asked, finished, opened again, corrected."""
    book, url = site
    page = open_at(url, "phone")
    unfold(page, "Begin another job", at_rest)
    page.get_by_label("Job", exact=True).fill("Orchard Row")
    press(page, "Begin this job", at_rest)
    page.get_by_text("4 emitters").first.wait_for()
    weigh(page, 500, at_rest)

    unfold(page, "Instrument file", at_rest)
    page.locator('input[type=file][accept*=".csv"]').set_input_files(
        [{"name": "logger.csv", "mimeType": "text/csv", "buffer": channels()}]  # type: ignore[list-item]
    )
    at_rest(page)
    press(page, "Attach it", at_rest)
    choose(page, "“k1”", "Flow, L/min", at_rest)
    press(page, "Attach it", at_rest)
    page.get_by_text("Saved logger.csv: 30 readings").wait_for()
    finish(page, at_rest, "Orchard Row")
    correct(page, at_rest)

    assert dict(read_site_job(book, "Orchard Row").start.of["job"])["heat_source"] == "boiler"  # type: ignore[union-attr]
    assert sorted(read_table(book.current(), "catches")["mass_g"]) == [500, 700]
    assert len(read_table(book.current(), "readings")) == 30


def correct(page: Page, at_rest: Rest) -> None:
    """The job just finished, opened again, a catch added, finished again."""
    unfold(page, "Open a finished job again", at_rest)
    press(page, "Open it again", at_rest)
    page.get_by_text("flow on whole system · 4 emitters").first.wait_for()
    weigh(page, 700, at_rest)
    finish(page, at_rest, "Orchard Row")
