"""A book whose every text cell is hostile, on every page: nothing is fetched, styled, linked or lost."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from pipeline.on_site.entries import Sender, record
from pipeline.quotes.kept_quotes import keep_quote
from pipeline.store.book import Book
from tests.browser.conftest import PAGES, PATIENCE_MS, _wait_for, follow, rest, served
from tests.browser.test_on_site import free_port
from tests.hostile_world import MARK, PATTERNS, faults_in, make_hostile

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser
Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
TEXTS = """() => [...document.querySelectorAll('body *')].filter(e => !e.closest('script, style, noscript')).map(e => ({
    own: [...e.childNodes].filter(n => n.nodeType === 3).map(n => n.data).join(''),
    all: e.children.length && e.tagName !== 'text' ? '' : e.textContent, tag: e.tagName,
    link: e.getAttribute('href') || e.getAttribute('src') || '', value: e.value || ''}))"""
"""What every element says by itself; of the leaves, and of the words in a figure, all that they say."""


@pytest.fixture(scope="session")
def hostile_book(made_once: Callable[[str, Callable[[Path], None]], Path]) -> Path:
    """A trained book of two hostile firms, with a quote kept, a job begun and one finished on site."""

    def make(folder: Path) -> None:
        from dashboard.services.training import train
        from pipeline.intake.load import load
        from synthetic_data.simulate import simulate_to_folder

        logs = folder / "logs"
        simulate_to_folder(logs, jobs=60, seed=4, scenario="usual", format="csv", progress=None)
        make_hostile(logs)
        spoil(logs)
        book = Book(folder / "book")
        load([logs], book)
        train(book)
        put_on_site(book)

    return made_once("hostile", make) / "book"


def spoil(logs: Path) -> None:
    """A hostile cell that is rejected, and a file that is none of the job log's with hostile headings."""
    with (logs / "jobs.csv").open() as file:
        heads = file.readline().rstrip("\n").split(",")
    row = {"job_id": PATTERNS[0], "system_type": PATTERNS[6].replace('"', ""), "visit_date": PATTERNS[7]}
    with (logs / "jobs.csv").open("a") as file:
        file.write(",".join(row.get(name, "") for name in heads) + "\n")
    (logs / f":red[{MARK}].csv").write_text(f"{PATTERNS[2]};{PATTERNS[6]}\n{PATTERNS[7]};x\n")


def put_on_site(book: Book) -> None:
    began = datetime.now().replace(microsecond=0) - timedelta(hours=2)
    facts = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": 1}], "flush_started_at": began}
    for number, name in enumerate((PATTERNS[6], PATTERNS[0][:60])):
        record(book, name, "start", facts, Sender(f"s{number}"), now=began)
        of = {"mass_g": 400.0, "trap": "magnet", "note": PATTERNS[7]}
        record(book, name, "catch", of, Sender(f"c{number}"), now=began + timedelta(minutes=20))
        change = {"heat_source": "inline_heater", "note": PATTERNS[2]}
        record(book, name, "change", change, Sender(f"n{number}"), now=began + timedelta(minutes=30))
    price = {"price": 500.0, "price_with_tax": 600.0, "chance_of_loss": 0.1, "currency": "GBP", "cost": {"p50": 400.0}}
    answer = {"firm_id": PATTERNS[3], "job_id": PATTERNS[7], "price": price, "second_day": 0.1}
    spans = {"p10": 1.0, "p50": 2.0, "p90": 3.0}
    answer |= {"magnetite_kg": spans, "site_minutes": spans, "flush_minutes": spans, "non_magnetic_kg": spans}
    asked = {"jobs": [{"firm_id": PATTERNS[3], "job_id": PATTERNS[7], "system_type": "sealed"}]}
    keep_quote(book, answer, asked, model="m", valid_until=date.today() + timedelta(days=30))


@pytest.fixture(scope="module")
def hostile_address(hostile_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    book = tmp_path_factory.mktemp("hostile") / "book"
    shutil.copytree(hostile_book, book)
    with served(book) as url:
        yield url


def foreign_requests(page: Page, url: str) -> _Foreign:
    """Addresses outside the dashboard that the page asks for from now on, refused ones among them."""
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url.replace("ws://", "http://")))
    return _Foreign(asked, url)


class _Foreign(list[str]):
    def __init__(self, asked: list[str], url: str) -> None:
        super().__init__()
        self._asked, self._url = asked, url

    def found(self) -> list[str]:
        return [each for each in self._asked if not each.startswith((self._url, "data:", "blob:"))]


def wrongly_drawn(page: Page) -> list[Any]:
    """Elements that say the word without what wraps it, or lead somewhere."""
    said = page.evaluate(TEXTS)
    for each in said:
        for name in ("own", "all", "value"):
            each[name] = each[name].replace("\u2060", "")
    texts = [each for each in said if any(faults_in([each[name]]) for name in ("own", "all", "value"))]
    return texts + [each for each in said if "evil.example" in each["link"]]


@pytest.fixture(scope="module")
def walker(hostile_address: str, contexts: Callable[[str, str], BrowserContext]) -> Iterator[tuple[Page, _Foreign]]:
    """A window that goes from page to page of the hostile book, and every address that it asked for on the way."""
    page = contexts("desktop", "light").new_page()
    page.set_default_timeout(PATIENCE_MS)
    foreign = foreign_requests(page, hostile_address)
    page.goto(f"{hostile_address}/about-the-data")
    page.wait_for_selector("h1")
    yield page, foreign
    page.close()


@pytest.mark.parametrize("name", PAGES)
def test_every_page_draws_hostile_text_letter_by_letter(
    walker: tuple[Page, _Foreign], at_rest: Rest, name: str
) -> None:
    page, foreign = walker
    follow(page, name)
    unfold_all(page, at_rest)

    for step in STEPS.get(name, ()):
        step(page)
        at_rest(page)
        assert wrongly_drawn(page) == []
    assert wrongly_drawn(page) == []
    assert page.evaluate("() => document.body.innerText").count(MARK) >= LEAST.get(name, 0)
    assert foreign.found() == []


def choose_the_last(label: str) -> Callable[[Page], None]:
    """Choose the last of a list."""

    def step(page: Page) -> None:
        page.get_by_role("combobox", name=label).first.click()
        page.get_by_role("option").last.click()

    return step


def by_engineer(page: Page) -> None:
    page.locator(".st-key-quoted_by").get_by_text("Engineer", exact=True).click()


def hand_in_a_bad_file(page: Page) -> None:
    """A file that no table is in, its name and its headings hostile: a refusal, and questions about the headings.

    The name holds only what every system allows in one: the rest is taken out of a name before it is shown."""
    content = f"{PATTERNS[2]};{PATTERNS[6]}\n{PATTERNS[7]};1\n".encode()
    page.locator("input[type=file]").set_input_files(
        [{"name": f"${MARK}$ _{MARK}_ `{MARK}` ~~{MARK}~~.csv", "mimeType": "text/csv", "buffer": content}]  # type: ignore[list-item]
    )
    page.get_by_role("button", name="Hand them in").click()


def wait_for_the_audit(page: Page) -> None:
    """It is worked out apart from the server, and drawn once it is there."""
    page.get_by_role("combobox", name="Practice").first.wait_for(timeout=180_000)


STEPS: dict[str, tuple[Callable[[Page], None], ...]] = {
    "job-book": (choose_the_last("Job"),),
    "quoted-and-done": (by_engineer,),
    "intake": (hand_in_a_bad_file,),
    "practice-audit": (wait_for_the_audit, lambda page: unfold_all(page, rest)),
}
"""What is done on a page to have more of the ids drawn."""
LEAST = {"job-book": 9, "watch-the-catch": 2, "intake": 3}
"""How often the word stands on a page at least: a page that drew none of it would prove nothing."""


def unfold_all(page: Page, at_rest: Rest) -> None:
    """Open whatever is folded away, so that its words are drawn."""
    page.evaluate("() => document.querySelectorAll('details:not([open]) > summary').forEach(each => each.click())")
    at_rest(page)


@pytest.fixture(scope="module")
def pattern_address() -> Iterator[str]:
    """A page of every pattern in every element, served by the library alone, which lets it fetch what it likes."""
    port, script = free_port(), Path(__file__).with_name("literal_page.py")
    command = [sys.executable, "-m", "streamlit", "run", str(script), "--server.address", "127.0.0.1"]
    command += ["--server.headless", "true", "--server.port", str(port), "--browser.gatherUsageStats", "false"]
    root = str(Path(__file__).parents[2])
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": root}
    )
    try:
        _wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(timeout=30)


def test_every_pattern_is_drawn_letter_by_letter_in_every_element(
    pattern_address: str, open_at: Open, at_rest: Rest
) -> None:
    page = open_at(f"{pattern_address}/?of=nothing", "desktop")
    foreign = foreign_requests(page, pattern_address)
    page.goto(pattern_address)
    page.wait_for_selector("h1")
    page.wait_for_selector(".js-plotly-plot")
    at_rest(page)
    said = page.evaluate("() => document.body.innerText").replace("\u2060", "")
    drawn = page.evaluate("() => [...document.querySelectorAll('.js-plotly-plot text')].map(e => e.textContent)")

    assert wrongly_drawn(page) == []
    assert [pattern for pattern in PATTERNS if said.count(pattern) < 8] == []
    assert [pattern for pattern in PATTERNS if pattern not in {text.replace("\u2060", "") for text in drawn}] == []
    assert [each for each in foreign.found() if "evil" in each or MARK in each] == []
