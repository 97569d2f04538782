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
from functools import cache, partial
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
PROGRAMS = (
    "chromium-headless-shell",  # the same engine without a window, toolbars or a graphics card: a third less to do
    "/usr/lib/chromium/chromium",  # what Debian's `chromium` starts, without its flags for a graphics card
    "chromium",
    "chromium-browser",
    "google-chrome",
)
"""What counts as Chromium, the lightest first."""
PATIENCE_MS = 120_000
"""A shared, busy machine can take this long for one page; a test that waits longer has failed."""
AT_REST = """() => {
    const rests = document.querySelector('[data-testid="stApp"]')?.dataset.testScriptState === 'notRunning'
        && !document.querySelector('[data-testid="stStatusWidget"], [data-testid="stSpinner"], [data-stale="true"]')
        && !document.querySelector('[data-testid="stProgress"], [data-testid="stMain"] [data-testid="stSkeleton"]');
    window.restsSince = rests ? window.restsSince ?? performance.now() : undefined;
    return performance.now() - window.restsSince >= 500;
}"""
"""Nothing runs, spins or is stale, and has not for half a second: a rerun may start a moment after a click."""


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
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if program is None:
        missing = "Chromium is not installed: `apt-get install chromium-headless-shell` or `chromium`"
        pytest.fail(missing) if os.environ.get("CI") == "true" else pytest.skip(missing)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def contexts(browser: Browser) -> Callable[[str, str], BrowserContext]:
    """One browser window a size and scheme for all tests: what a page has fetched once is not fetched again."""

    return cache(partial(new_context, browser))


def new_context(browser: Browser, size: str, scheme: str) -> BrowserContext:
    """A window of a size and scheme in which nothing glides: less to draw, sooner at rest."""
    return browser.new_context(**SIZES[size], color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]


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
def walked(address: str, browser: Browser) -> Callable[..., Page]:
    """`walked("job-book", "phone", "dark")`: a page of the demo's dashboard, reached by its link in a window that all
    tests of that size and scheme share; for tests that only look. No other test's window has its list unfolded."""

    @cache
    def window(size: str, scheme: str) -> Page:
        page = new_context(browser, size, scheme).new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{address}/about-the-data")
        page.wait_for_selector("h1")
        return page

    def at(name: str, size: str, scheme: str = "light") -> Page:
        page = window(size, scheme)
        follow(page, name)
        return page

    return at


def follow(page: Page, name: str) -> None:
    """Go to another page by its link in the list at the side, folded away or not."""
    rest(page)
    page.evaluate("() => { const h1 = document.querySelector('h1'); if (h1) h1.id = 'left-behind' }")
    link = page.locator(f'[data-testid="stSidebarNavLink"][href$="/{name}"]').first
    if not page.url.endswith(f"/{name}"):
        link.evaluate("link => link.click()")
        page.wait_for_url(f"**/{name}")
        page.wait_for_selector("h1:not(#left-behind)")
    rest(page)


@pytest.fixture(scope="session")
def at_rest() -> Callable[[Page], None]:
    """Waits until the app has nothing left to draw."""
    return rest


def rest(page: Page) -> None:
    """Wait until the app has nothing left to draw."""
    page.evaluate("() => { window.restsSince = undefined }")
    page.wait_for_function(AT_REST, polling=50)
