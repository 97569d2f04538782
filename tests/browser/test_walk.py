"""Demo → quote → intake of a bad file, in a real browser, at a desk and on a phone."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

from dashboard.theme import contrast, look
from tests.browser.conftest import PAGES

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

Open = Callable[..., "Page"]
Rest = Callable[["Page"], None]
SIZES = ("desktop", "phone")
BAD_JOBS = (
    b"job_id,system_type,visit_date,flush_started_at,flush_ended_at\n"
    b"N1,sealed,2024-03-04,2024-03-04T09:00,2024-03-04T12:00\n"
    b"N2,wood_stove,2024-03-05,2024-03-05T09:00,2024-03-05T12:00\n"
)


DRAWN_COLOURS = """main => {
    const seen = [];
    for (const e of main.querySelectorAll('*')) {
        const text = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
        if (!text || !e.offsetParent) continue;
        if (e.closest(':disabled, [disabled], .js-plotly-plot, [aria-hidden=true]')) continue;
        let opacity = 1, grounds = [];
        const slider = e.closest('.stSlider');  // its values stand above the thumb, not on it
        for (let x = slider ? slider.parentElement : e; x && x.nodeType === 1; x = x.parentElement) {
            const style = getComputedStyle(x);
            opacity *= parseFloat(style.opacity);
            grounds.push(style.backgroundColor);
        }
        const words = getComputedStyle(e).color;
        if (opacity > 0) seen.push({ text: e.innerText.slice(0, 40), words, opacity, grounds });
    }
    return seen;
}"""


def over(colour: str, ground: tuple[float, ...], opacity: float = 1.0) -> tuple[float, ...]:
    """A colour as the browser computes it (`rgb(…)` or `rgba(…)`), laid over a ground."""
    red, green, blue, *alpha = (float(number) for number in re.findall(r"[0-9.]+", colour))
    cover = opacity * (alpha[0] if alpha else 1.0)
    return tuple(cover * c + (1 - cover) * g for c, g in zip((red, green, blue), ground, strict=True))


def contrast_drawn(drawn: dict[str, Any]) -> float:
    """Contrast of a piece of text with what lies behind it."""
    ground = (255.0, 255.0, 255.0)
    for colour in reversed(drawn["grounds"]):
        ground = over(colour, ground)
    words = over(drawn["words"], ground, drawn["opacity"])
    return contrast(*("#" + "".join(f"{round(c):02x}" for c in shade) for shade in (words, ground)))


def faint_words(page: Page) -> list[dict[str, Any]]:
    """Text drawn with less than 4.5 to 1, once what fades in has faded in (given three seconds)."""
    faint: list[dict[str, Any]] = []
    for _ in range(10):
        drawn = page.get_by_test_id("stMain").evaluate(DRAWN_COLOURS)
        assert len(drawn) >= 5
        faint = [each for each in drawn if contrast_drawn(each) < 4.5]
        if not faint:
            break
        page.wait_for_timeout(300)
    return faint


def go_to(page: Page, name: str, size: str, at_rest: Rest) -> None:
    """Another page by the list at the side, which a phone hides behind a button."""
    if size == "phone":
        page.get_by_test_id("stExpandSidebarButton").click()
    page.get_by_role("link", name=name).click()
    at_rest(page)


def fill_in_survey(page: Page) -> None:
    page.get_by_text("sealed", exact=True).first.click()
    page.get_by_label("Double (type 22)").fill("9")
    page.get_by_label("Cold at the bottom").fill("2")
    page.get_by_role("button", name="Price this job").click()


@pytest.mark.parametrize("size", SIZES)
def test_from_the_demo_to_a_quote_to_the_intake_of_a_bad_file(
    size: str, own_address: str, open_at: Open, at_rest: Rest
) -> None:
    page = open_at(own_address, size)
    assert page.get_by_text("Every job in this book is simulated").first.is_visible()

    fill_in_survey(page)
    page.get_by_role("heading", name=re.compile(r"Expect [0-9.]+\skg .* ask £[0-9,]+ before tax")).wait_for()
    page.locator(".js-plotly-plot").nth(2).wait_for()

    go_to(page, "Intake", size, at_rest)
    bad = {"name": "jobs.csv", "mimeType": "text/csv", "buffer": BAD_JOBS}
    page.locator("input[type=file]").set_input_files([bad])  # type: ignore[list-item]
    page.get_by_role("button", name="Hand them in").click()

    page.get_by_text("1 of 2 rows accepted, 1 rejected").wait_for()
    with page.expect_download() as kept:
        page.get_by_role("button", name="Rejects as CSV").click()
    assert "wood_stove" in kept.value.path().read_text(encoding="utf-8")


@pytest.mark.parametrize("name", PAGES)
def test_a_page_fits_a_phone_360_px_wide(name: str, walked: Open) -> None:
    page = walked(name, "phone")

    widths = page.get_by_test_id("stMain").evaluate("main => [main.scrollWidth, main.clientWidth]")
    outside = page.get_by_test_id("stMain").evaluate(
        """main => [...main.querySelectorAll('h1, h2, p, button, input, .js-plotly-plot, [data-testid="stMetric"]')]
            .filter(e => e.offsetParent && !e.closest('[data-testid="stDataFrame"]'))
            .filter(e => e.parentElement.getBoundingClientRect().width > 1)
            .filter(e => e.getBoundingClientRect().right > window.innerWidth + 1)
            .map(e => e.outerHTML.slice(0, 120))"""
    )
    assert widths == [360, 360]
    assert outside == []


HEIGHTS = """() => [...document.querySelectorAll('section button, main button')]
    .filter(b => b.offsetParent && b.closest('.stButton, .stDownloadButton, .stFormSubmitButton, .stButtonGroup'))
    .map(b => [b.innerText, b.getBoundingClientRect().height])"""


def test_fingers_find_targets_of_48_px_on_the_catch_page(walked: Open) -> None:
    page = walked("watch-the-catch", "phone")
    page.locator(".stButton:visible, .stDownloadButton:visible, .stButtonGroup:visible").first.wait_for()

    page.wait_for_function(f"() => ({HEIGHTS})().every(b => b[1] >= 48)")  # a redraw takes the style away for a moment
    assert page.evaluate(HEIGHTS)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_can_be_read_in_both_themes(name: str, scheme: str, walked: Open) -> None:
    """Words at least 4.5 to 1 as drawn (WCAG 2.2, 1.4.3; what cannot be used yet is exempt there), headings in
    order, a name on every field, figures in the colours of the theme."""
    page = walked(name, "desktop", scheme)

    faint = faint_words(page)
    levels = [int(tag[1]) for tag in page.locator("h1, h2, h3, h4").evaluate_all("all => all.map(h => h.tagName)")]
    nameless = page.locator("section input:visible").evaluate_all(
        """all => all.filter(i => i.type !== 'file' && i.tabIndex >= 0)
            .filter(i => !i.getAttribute('aria-label') && !i.labels?.length && !i.getAttribute('aria-labelledby'))
            .map(i => i.outerHTML.slice(0, 120))"""
    )
    grounds = page.locator(".js-plotly-plot").evaluate_all("all => all.map(plot => plot.layout.paper_bgcolor)")
    assert faint == []
    assert levels[0] == 1 == levels.count(1)
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    assert nameless == []
    assert set(grounds) <= {look(scheme).page}
