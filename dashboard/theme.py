"""One look for every figure: hues with fixed meanings, dashes, markers, and the frame around a plot.

The hues start from the Okabe-Ito set (M. Okabe, K. Ito, "Color Universal Design", 2008), darkened for
a white page and lightened for a dark one until each has a contrast of at least 4.5 to 1 with the page.
A hue never stands alone: measured has markers, fitted is a line, expected is a band with dashes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import plotly.graph_objects as go


@dataclass(frozen=True, slots=True)
class Look:
    """Colours of one theme, as `#rrggbb`. `debris`, `flow`, `heat`, `ink` (time and money) and
    `accent` ("do this now") mean the same on every page."""

    name: str
    page: str
    panel: str
    text: str
    muted: str
    grid: str
    debris: str
    flow: str
    heat: str
    ink: str
    accent: str
    on_accent: str


LIGHT = Look(
    name="light",
    page="#ffffff",
    panel="#eef2f4",
    text="#17212b",
    muted="#56626d",
    grid="#dfe5e9",
    debris="#a94400",
    flow="#0067a3",
    heat="#8a3a6b",
    ink="#3f4a55",
    accent="#00694f",
    on_accent="#ffffff",
)
DARK = Look(
    name="dark",
    page="#11181f",
    panel="#1d262e",
    text="#e9eef2",
    muted="#a3afba",
    grid="#2a353f",
    debris="#f09a52",
    flow="#62b8ea",
    heat="#df9cc5",
    ink="#c3ccd4",
    accent="#35c49f",
    on_accent="#11181f",
)

MEANINGS = {
    "debris": "debris caught or expected",
    "flow": "water, flow and volume",
    "heat": "heat and temperature",
    "ink": "time and money",
    "accent": "do this now",
}

MEASURED = "solid"
FITTED = "solid"
EXPECTED = "dash"
LIMIT = "dot"
MAGNET_MARKER = "circle"
TRAP_MARKER = "diamond-open"
HEIGHT = 340
"""Height of a main picture [px]; a phone held upright still shows it whole."""

SETTINGS: dict[str, Any] = {"displayModeBar": False, "scrollZoom": False, "responsive": True}
"""Handed to the chart widget: no floating tool bar, and a swipe on a phone scrolls the page."""

MARK = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 44 44" width="44" height="44">
<rect width="44" height="44" rx="9" fill="#a94400"/>
<path d="M9 35 C13 17 20 13 36 12" fill="none" stroke="#ffffff" stroke-width="4" stroke-linecap="round"/>
<circle cx="9" cy="35" r="3.4" fill="#ffffff"/><circle cx="16.4" cy="19.6" r="3.4" fill="#ffffff"/>
<circle cx="36" cy="12" r="3.4" fill="#ffffff"/></svg>"""
"""The mark of the dashboard: a catch that levels off."""


def look(name: str | None) -> Look:
    """The look called `light` or `dark`; anything else, as before the browser has said, is light."""
    return DARK if name == "dark" else LIGHT


def style(look: Look) -> str:
    """The little that the library's own settings cannot say, as one style element.

    Targets of 48 px where a finger points (wet hands, gloves), and readable words on the accent colour:
    the library writes white there whatever the accent.
    """
    return f"""<style>
@media (pointer: coarse), (max-width: 640px) {{
  .stButton button, .stFormSubmitButton button, .stDownloadButton button, .stButtonGroup button,
  .stPageLink a, .stLinkButton a, .stSelectbox [role="group"], .stExpander summary, .stNumberInput button,
  [data-testid="stTimeInputTimeDisplay"],
  [data-testid="stTextInputRootElement"], [data-testid="stNumberInputContainer"], .stFileUploader button,
  .stCheckbox label, [data-testid="stExpandSidebarButton"], [data-testid="stSidebarNavLink"] {{ min-height: 48px; }}
  .stNumberInput button, .stSelectbox button, [data-testid="stExpandSidebarButton"] {{ min-width: 44px; }}
  .stSelectbox [role="group"], .stSelectbox button, .stNumberInput button, .stCheckbox label {{ align-items: center; }}
  .stSelectbox [role="group"] > *, [data-testid="stTextInputRootElement"] > *,
  [data-testid="stNumberInputContainer"] > * {{ align-self: stretch; height: auto; }}
  .stSlider [role="slider"] {{ height: 24px; width: 24px; }}
}}
.stExpander summary, .stExpander summary * {{ opacity: 1; }}
button[kind="primary"]:enabled, button[kind="primaryFormSubmit"]:enabled {{ color: {look.on_accent}; }}
</style>"""


def tint(colour: str, share: float) -> str:
    """`#rrggbb` with opacity `share` (0..1), as plotly takes it.

    >>> tint("#a94400", 0.25)
    'rgba(169, 68, 0, 0.25)'
    """
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return f"rgba({red}, {green}, {blue}, {share:g})"


def relative_luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`, 0..1. Source: WCAG 2.2, "relative luminance"."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1..21. Source: WCAG 2.2, "contrast ratio".

    >>> round(contrast("#000000", "#ffffff"), 1)
    21.0
    """
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def axis_style(look: Look) -> dict[str, Any]:
    """How an axis looks: thin grid, quiet marks, and no zoom, so that a swipe on a phone scrolls the page."""
    return {
        "gridcolor": look.grid,
        "gridwidth": 1,
        "zeroline": False,
        "linecolor": look.muted,
        "ticks": "outside",
        "tickcolor": look.muted,
        "tickfont": {"color": look.muted, "size": 13},
        "automargin": True,
        "title": {"standoff": 8, "font": {"size": 13, "color": look.muted}},
        "fixedrange": True,
    }


def new_figure(look: Look, *, height: int = HEIGHT, margin_right: int = 12) -> go.Figure:
    """An empty figure in that look. Labels stand beside the lines, so there is no legend."""
    import plotly.graph_objects as go

    axis = axis_style(look)
    return go.Figure(
        layout={
            "height": height,
            "margin": {"l": 12, "r": margin_right, "t": 28, "b": 12},
            "paper_bgcolor": look.page,
            "plot_bgcolor": look.page,
            "font": {"family": "Source Sans, Source Sans Pro, sans-serif", "size": 14, "color": look.text},
            "showlegend": False,
            "hovermode": "closest",
            "hoverlabel": {"bgcolor": look.panel, "font": {"color": look.text}, "bordercolor": look.muted},
            "xaxis": axis,
            "yaxis": axis,
            "bargap": 0.35,
        }
    )


def label(look: Look, colour: str, text: str, x: Any, y: Any, **where: Any) -> dict[str, Any]:
    """A label beside what it names, on a plate of the page's colour so that lines never strike it out."""
    return {
        "x": x,
        "y": y,
        "text": text,
        "showarrow": False,
        "font": {"color": colour, "size": 13},
        "bgcolor": tint(look.page, 0.85),
        "borderpad": 1,
        **where,
    }
