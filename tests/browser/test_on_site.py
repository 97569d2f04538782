"""A whole job on phones 360 px wide, by touch: two of them at once, one closed and opened again, the server killed."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.book import Book, read_table
from pipeline.on_site_entries import Sender, record
from pipeline.on_site_job import read_site_job

from .conftest import COMMAND, _wait_for

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


@pytest.fixture
def port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def begun(tmp_path: Path) -> Book:
    """A book with one job begun an hour ago."""
    book = Book(tmp_path / "book")
    began = datetime.now().replace(microsecond=0) - timedelta(hours=1)
    facts = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": n} for n in range(1, 7)],
             "flush_started_at": began}  # fmt: skip
    record(book, JOB, "start", facts, Sender("start"), now=began)
    return book


def press(page: Page, name: str, at_rest: Rest) -> None:
    page.get_by_role("button", name=name, exact=True).tap()
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


def finish(page: Page, at_rest: Rest) -> None:
    page.get_by_text("Finish the job").tap()
    at_rest(page)
    page.get_by_text("Inhibitor dosed").tap()
    at_rest(page)
    press(page, "Finish and put it in the book", at_rest)
    page.get_by_text(f"{JOB} is in the book.").wait_for()


def test_thumbs_find_everything_they_need(begun: Book, port: int, open_at: Open, at_rest: Rest) -> None:
    """Targets of 48 px and more, within the lower half of the screen; nothing beside the screen."""
    with killed_at_the_end(begun.path, port) as url:
        page = open_at(url, "phone")
        bar = [page.get_by_role("button", name=name, exact=True).bounding_box() for name in
               ("Weigh a catch", "Note a reading", "Change emitter", "Undo")]  # fmt: skip
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
