"""Colours can be read in both themes. Threshold 4.5 to 1: WCAG 2.2, success criterion 1.4.3 (level AA)."""

from __future__ import annotations

import tomllib
from itertools import combinations
from pathlib import Path

import pytest

from dashboard.theme import DARK, LIGHT, MEANINGS, Look, contrast, look, style, tint

CONFIG = tomllib.loads(
    (Path(__file__).parents[2] / "dashboard" / ".streamlit" / "config.toml").read_text(encoding="utf-8")
)
READABLE = 4.5
LOOKS = {"light": LIGHT, "dark": DARK}
TEXTS = (
    "textColor",
    "linkColor",
    "primaryColor",
    "redColor",
    "orangeColor",
    "yellowColor",
    "blueColor",
    "greenColor",
    "violetColor",
    "grayColor",
    "grayTextColor",
)


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("colour", [*MEANINGS, "text", "muted"])
def test_every_hue_is_readable_on_the_page_and_on_panels(name: str, colour: str) -> None:
    shown = getattr(LOOKS[name], colour)

    assert contrast(shown, LOOKS[name].page) >= READABLE
    assert contrast(shown, LOOKS[name].panel) >= READABLE


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("key", TEXTS)
def test_every_configured_colour_of_text_is_readable(name: str, key: str) -> None:
    theme = CONFIG["theme"][name]

    assert contrast(theme[key], theme["backgroundColor"]) >= READABLE
    assert contrast(theme[key], theme["secondaryBackgroundColor"]) >= READABLE


@pytest.mark.parametrize("name", LOOKS)
def test_words_on_the_accent_are_readable(name: str) -> None:
    shown = LOOKS[name]

    assert contrast(shown.on_accent, shown.accent) >= READABLE
    assert shown.on_accent in style(shown)


@pytest.mark.parametrize("name", LOOKS)
def test_figures_and_widgets_share_their_colours(name: str) -> None:
    theme, shown = CONFIG["theme"][name], LOOKS[name]

    assert (theme["backgroundColor"], theme["secondaryBackgroundColor"]) == (shown.page, shown.panel)
    assert (theme["textColor"], theme["grayTextColor"]) == (shown.text, shown.muted)
    assert theme["primaryColor"] == shown.accent
    assert theme["chartCategoricalColors"] == [getattr(shown, hue) for hue in MEANINGS]


@pytest.mark.parametrize("shown", LOOKS.values(), ids=LOOKS)
def test_no_two_meanings_share_a_hue(shown: Look) -> None:
    hues = [getattr(shown, name) for name in MEANINGS]

    assert all(one != other for one, other in combinations(hues, 2))


def test_contrast_agrees_with_published_figures() -> None:
    # WCAG 2.2 gives 21:1 for black on white; #767676 is the lightest grey that passes 4.5:1 on white (4.54).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_the_look_follows_the_browser_and_is_light_until_it_has_said() -> None:
    assert (look("dark"), look("light"), look(None)) == (DARK, LIGHT, LIGHT)


def test_a_tint_keeps_the_hue() -> None:
    assert tint("#ff8000", 0.5) == "rgba(255, 128, 0, 0.5)"


def test_the_server_stays_on_this_machine_and_reports_nothing() -> None:
    assert CONFIG["server"]["address"] == "127.0.0.1"
    assert CONFIG["browser"]["gatherUsageStats"] is False
