"""The phone's page in a real browser: what is entered without signal is kept, and sent once, in order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import read_site_job
from pipeline.store.book import Book
from tests.browser.conftest import SIZES, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

pytestmark = pytest.mark.browser
WAIT_MS = 20_000
NO_STORAGE = "Object.defineProperty(window, 'indexedDB', { get() { throw new DOMException('no', 'SecurityError'); } });"
NO_WORKER = "Object.defineProperty(Navigator.prototype, 'serviceWorker', { get: () => undefined });"

TARGETS = "dialog button, dialog select, dialog input:not([type=radio]), .key"
SMALL = "all => all.filter(e => e.offsetHeight && (e.offsetHeight < 48 || e.offsetWidth < 48)).map(e => e.outerHTML)"
NAMELESS = "all => all.filter(e => !e.labels.length).length"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Book, str]]:
    """A book without a job, and the phone's page over it: each test begins its own job."""
    book = Book(tmp_path_factory.mktemp("phone") / "book")
    with served(book.path) as address:
        yield book, f"{address}/phone/"


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """A phone of its own."""
    context = browser.new_context(**SIZES["phone"], reduced_motion="reduce")
    context.set_default_timeout(WAIT_MS)
    yield context
    context.close()


def begin(book: Book, name: str) -> None:
    began = datetime.now().replace(microsecond=0) - timedelta(hours=1)
    emitters = [{"emitter_no": 1, "room": "Kitchen"}, {"emitter_no": 2}]
    facts = {"job": {"system_type": "sealed"}, "emitters": emitters, "flush_started_at": began}
    record(book, name, "start", facts, Sender(f"start {name}"), now=began)


def opened(phone: BrowserContext, url: str, name: str) -> Page:
    page = phone.new_page()
    page.goto(f"{url}#{name}")
    page.get_by_role("button", name="Weigh a catch").wait_for()
    return page


def weigh(page: Page, grams: str) -> None:
    page.get_by_role("button", name="Weigh a catch").tap()
    for figure in grams:
        page.get_by_role("group", name="Number pad").get_by_role("button", name=figure, exact=True).tap()
    save(page)


def save(page: Page) -> None:
    """The form closes once the entry is kept on the phone."""
    page.get_by_role("button", name="Save this catch").tap()
    page.locator("#form:not([open])").wait_for(state="attached")


def masses(book: Book, name: str) -> list[float]:
    return [event.of["mass_g"] for event in read_site_job(book, name).all_of("catch")]


def test_a_catch_is_weighed_moved_on_and_taken_back_with_signal(site: tuple[Book, str], phone: BrowserContext) -> None:
    book, url = site
    begin(book, "Alder")
    page = opened(phone, url, "Alder")
    page.get_by_role("button", name="Change radiator").tap()
    page.get_by_label("Flow is now on").select_option("1")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.locator("#flow-on", has_text="Kitchen (1)").wait_for()
    weigh(page, "180")
    page.get_by_text("180 g wet, magnet, Kitchen (1)").first.wait_for()
    page.get_by_text("Connected · all saved").wait_for()
    page.get_by_role("button", name="Undo").tap()
    page.locator("li.undone").wait_for()

    job = read_site_job(book, "Alder")
    assert [(e.kind, e.of.get("focus_emitter_no"), e.is_undone) for e in job.events[1:3]] == [
        ("focus", 1, False),
        ("catch", 1, True),
    ]
    assert page.locator("li.undone").count() == 1


def test_what_is_weighed_without_signal_outlives_a_reload_and_is_sent_once_in_order(
    site: tuple[Book, str], phone: BrowserContext
) -> None:
    book, url = site
    begin(book, "Birch")
    page = opened(phone, url, "Birch")
    weigh(page, "400")
    page.locator("#as-of", has_text="As of").wait_for()
    page.locator("html[data-opens='without signal']").wait_for()
    phone.set_offline(True)
    weigh(page, "150")
    weigh(page, "90")
    page.get_by_text("No signal · 2 kept on this phone").wait_for()
    page.reload()
    page.get_by_text("No signal · 2 kept on this phone").wait_for()
    seen = page.locator("#as-of").inner_text(), page.locator("#since").inner_text(), masses(book, "Birch")
    phone.set_offline(False)
    page.get_by_text("Connected · all saved").wait_for()

    assert seen[0].startswith("Old forecast, as of")
    assert "without 2 kept on this phone" in seen[0]
    assert (seen[1][:12], seen[2]) == ("Last weighed", [400])
    assert masses(book, "Birch") == [400, 150, 90]
    page.locator("#as-of", has_text="As of").wait_for()


def test_an_answer_that_is_lost_on_the_way_leaves_one_entry(site: tuple[Book, str], phone: BrowserContext) -> None:
    """The server has it on disk, the phone never hears of it: sent again, it is there once."""
    book, url = site
    begin(book, "Cedar")
    page = opened(phone, url, "Cedar")
    lost: list[int] = []

    def lose(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort("connectionreset")

    page.route("**/phone/entries", lose)
    weigh(page, "120")
    page.get_by_text("Connected · all saved").wait_for()

    assert lost == [200]
    assert masses(book, "Cedar") == [120]


def test_a_refused_entry_is_told_and_removed_by_hand_while_others_go_through(
    site: tuple[Book, str], phone: BrowserContext
) -> None:
    book, url = site
    begin(book, "Dogwood")
    page = opened(phone, url, "Dogwood")
    page.get_by_role("button", name="Weigh a catch").tap()
    page.get_by_text("A while ago").tap()
    page.get_by_label("Minutes ago").fill("90")
    page.get_by_label("Mass [g]").fill("50")
    save(page)
    page.get_by_text("lies before the start of the flow").first.wait_for()
    weigh(page, "60")
    page.get_by_text("Connected · all saved · 1 not saved").wait_for()
    page.get_by_role("button", name="Remove it from this phone").tap()
    page.get_by_text("Connected · all saved", exact=True).wait_for()

    assert masses(book, "Dogwood") == [60]


@pytest.mark.parametrize(
    ("script", "words"), [(NO_STORAGE, "This browser keeps nothing"), (NO_WORKER, "Do not reload or close this page")]
)
def test_what_a_browser_refuses_is_told_before_the_job_begins(
    site: tuple[Book, str], phone: BrowserContext, script: str, words: str
) -> None:
    book, url = site
    begin(book, f"Elm {words[:4].strip()}")
    phone.add_init_script(script)
    page = opened(phone, url, f"Elm%20{words[:4].strip()}")
    page.locator("#notes", has_text=words).wait_for()
    weigh(page, "70")
    page.get_by_text("Connected · all saved").wait_for()

    assert masses(book, f"Elm {words[:4].strip()}") == [70]


def test_thumbs_and_readers_find_everything(site: tuple[Book, str], phone: BrowserContext) -> None:
    """Targets of 48 px, nothing beside 360 px, every field with a name; a form is closed by Escape."""
    book, url = site
    begin(book, "Fir")
    page = opened(phone, url, "Fir")
    found = [page.locator("button, a.link").evaluate_all(SMALL)]
    for name in ("Weigh a catch", "Note a reading", "Change radiator"):
        page.get_by_role("button", name=name).tap()
        found.append(page.locator(TARGETS).evaluate_all(SMALL))
        unnamed = page.locator("dialog input, dialog select").evaluate_all(
            "all => all.filter(e => !e.labels.length).length"
        )
        page.keyboard.press("Escape")
        assert (unnamed, page.locator("dialog[open]").count()) == (0, 0)
    widths = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")

    assert found == [[]] * 4
    assert widths == [360, 360]
    assert page.locator("svg[role=img]").get_attribute("aria-label") == "Caught so far: no weighing yet, 0 weighings."
