"""The server is stopped while a page still computes: it ends soon, leaves nothing behind, and keeps what was saved."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboard.cli.serve import STOP_SECONDS
from pipeline.store.book import Book
from pipeline.verify.verify_book import verify
from tests.browser.conftest import _wait_for
from tests.browser.test_on_site import JOB, begin, finish, free_port, killed_at_the_end, masses, press, weigh

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
SERVE = """
import sys, time
from pathlib import Path
from dashboard import data
from dashboard.cli import serve
book, port, flag = Path(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3])
watch = data.watch
def endless(*given):
    while flag.exists():
        sum(range(1000))
    return watch(*given)
data.watch = endless
serve.serve(book, port, open_browser=False)
"""
"""The dashboard, with a computation that does not end while a file is there: what a very slow one would do."""
SPARE_S = 15.0
"""What a shared, busy machine may take on top."""


@contextmanager
def slow(book: Path, flag: Path) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    port = free_port()
    command = [sys.executable, "-c", SERVE, str(book), str(port), str(flag)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, start_new_session=True)
    try:
        _wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        yield process, f"http://127.0.0.1:{port}/watch-the-catch"
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate(timeout=30)


def wait_until(is_so: Callable[[], bool]) -> None:
    end = time.monotonic() + 60
    while not is_so():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.1)


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="asks for what is left of a group of processes")
def test_stopped_in_the_middle_of_a_computation_it_ends_soon_and_keeps_what_was_saved(
    tmp_path: Path, open_at: Open, at_rest: Rest
) -> None:
    book, flag = begin(Book(tmp_path / "book")), tmp_path / "endless"
    with slow(book.path, flag) as (process, url):
        page = open_at(url, "phone")
        weigh(page, 640, at_rest)
        press(page, "Weigh a catch", at_rest)
        page.get_by_label("Mass [g]").fill("410")
        page.keyboard.press("Tab")
        at_rest(page)
        flag.touch()
        page.get_by_role("button", name="Save this catch", exact=True).tap()
        wait_until(lambda: masses(book) == [640, 410])
        asked = time.monotonic()
        os.kill(process.pid, signal.SIGTERM)
        status, took = process.wait(timeout=120), time.monotonic() - asked
        page.close()

        said = process.stdout.read().decode() if process.stdout else ""
        assert status == 0, said
        assert STOP_SECONDS - 1 < took < STOP_SECONDS + SPARE_S  # it has its while, and no more
        with pytest.raises(ProcessLookupError):
            os.killpg(process.pid, 0)
        assert "Traceback" not in said
    goes_on(book, open_at, at_rest)


def goes_on(book: Book, open_at: Open, at_rest: Rest) -> None:
    """Both weighings are there for whoever starts it again, and go into the book."""
    with killed_at_the_end(book.path, free_port()) as url:
        page = open_at(url, "phone")
        page.get_by_text("0.53 kg").first.wait_for()  # 1050 g wet
        finish(page, at_rest, JOB)
    assert verify(book).clean
