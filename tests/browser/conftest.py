"""A demo book, the dashboard serving it, and a real Chromium.

Where Chromium is missing these tests are skipped on a developer's machine and fail in continuous
integration (`CI=true`): there they must run.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

COMMAND = Path(sys.executable).with_name("sludgebook")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PAGES = (
    "price-a-job",
    "watch-the-catch",
    "quoted-and-done",
    "job-book",
    "intake",
    "forecasts",
    "practice-audit",
    "about-the-data",
)
"""Every page of the dashboard by its address."""
SIZES: dict[str, dict[str, Any]] = {
    "desktop": {"viewport": {"width": 1280, "height": 900}},
    "phone": {
        "viewport": {"width": 360, "height": 740},
        "is_mobile": True,
        "has_touch": True,
        "user_agent": "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 Chrome/140.0 Mobile Safari/537.36",
    },
}
BARE = Path("/usr/lib/chromium/chromium")
"""The program that Debian's `chromium` starts, with flags for a graphics card: without one they cost a sixth more."""
PATIENCE_MS = 60_000
"""A shared, busy machine can take this long for one page; a test that waits longer has failed."""
AT_REST = """() => document.querySelector('[data-testid="stApp"]')?.dataset.testScriptState === 'notRunning'
    && !document.querySelector('[data-testid="stStatusWidget"], [data-testid="stSpinner"]')
    && !document.querySelector('[data-stale="true"]')"""


@pytest.fixture(scope="session")
def demo_book(made_once: Callable[[str, Callable[[Path], None]], Path]) -> Path:
    """The book that `sludgebook demo` makes, with 90 jobs, once for all workers. Read only."""

    def make(folder: Path) -> None:
        command = [COMMAND, "demo", "--jobs", "90", "--book", str(folder / "book"), "--no-serve"]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr

    return made_once("demo", make) / "book"


@contextmanager
def served(book: Path) -> Iterator[str]:
    """The address at which `sludgebook serve` shows the book; stopped at the end with all it started."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [COMMAND, "serve", "--book", str(book), "--port", str(port), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    try:
        _wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        yield f"http://127.0.0.1:{port}"
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(timeout=30)


def _wait_for(address: str) -> None:
    for _ in range(600):
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    pytest.fail(f"nothing answers at {address}")


@pytest.fixture(scope="session")
def address(demo_book: Path) -> Iterator[str]:
    """The dashboard over the demo book; for tests that only look."""
    with served(demo_book) as url:
        yield url


@pytest.fixture
def own_address(demo_book: Path, tmp_path: Path) -> Iterator[str]:
    """The dashboard over a copy of the demo book; for tests that hand files in."""
    shutil.copytree(demo_book, tmp_path / "book")
    with served(tmp_path / "book") as url:
        yield url


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A real Chromium with a fresh profile."""
    names = (str(BARE), "chromium", "chromium-browser", "google-chrome")
    program = next(filter(None, map(shutil.which, names)), None)
    if program is None:
        missing = "Chromium is not installed: `apt-get install chromium`"
        pytest.fail(missing) if os.environ.get("CI") == "true" else pytest.skip(missing)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def contexts(browser: Browser) -> Callable[[str, str], BrowserContext]:
    """One browser window a size and scheme for all tests: what a page has fetched once is not fetched again."""

    @cache
    def context(size: str, scheme: str) -> BrowserContext:
        return browser.new_context(**SIZES[size], color_scheme=scheme)  # type: ignore[arg-type]

    return context


@pytest.fixture
def open_at(contexts: Callable[[str, str], BrowserContext]) -> Iterator[Callable[..., Page]]:
    """Opens an address: `open_at(url, "phone", scheme="dark")`; returns the page once it is at rest."""
    pages = []

    def opened(url: str, size: str, scheme: str = "light") -> Page:
        page = contexts(size, scheme).new_page()
        pages.append(page)
        page.set_default_timeout(PATIENCE_MS)
        page.goto(url)
        page.wait_for_selector("h1")
        rest(page)
        return page

    yield opened
    for page in pages:
        page.close()


@pytest.fixture(scope="session")
def at_rest() -> Callable[[Page], None]:
    """Waits until the app has nothing left to draw."""
    return rest


def rest(page: Page) -> None:
    """Wait until nothing runs, spins or is stale, twice in a row: a rerun may start a moment after a click."""
    for _ in range(2):
        page.wait_for_timeout(400)
        page.wait_for_function(AT_REST)
