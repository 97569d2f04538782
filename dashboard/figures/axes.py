"""Axes that several figures share: flush time in hours, mass from zero, money."""

from __future__ import annotations

import math

from dashboard.words.wording import MINUTES_PER_HOUR

_HOUR_STEPS = (0.25, 0.5, 1, 2, 4, 8, 12, 24)
MOST_TICKS = 6
"""More hour marks than this run into one another on a screen 360 px wide."""


def hours_axis(longest_minutes: float, title: str) -> dict[str, object]:
    """An axis in minutes whose marks are read as hours: `0`, `1 h`, `2 h`."""
    hours = max(longest_minutes, 1.0) / MINUTES_PER_HOUR
    step = next((s for s in _HOUR_STEPS if hours / s <= MOST_TICKS), math.ceil(hours / MOST_TICKS))
    ticks = [step * i for i in range(int(hours / step) + 1)]
    return {
        "title": {"text": f"{title} [h]"},
        "tickvals": [t * MINUTES_PER_HOUR for t in ticks],
        "ticktext": [f"{t:g}" for t in ticks],
        "range": [0, max(longest_minutes, 1.0)],
    }


def mass_axis(largest_kg: float, title: str) -> dict[str, object]:
    """A mass axis that begins at zero, with room for a label above the largest value."""
    return {"title": {"text": f"{title} [kg]"}, "range": [0, max(largest_kg, 0.01) * 1.12], "nticks": 6}


def without_scale(title: str) -> dict[str, object]:
    """An axis whose height compares only within the figure: a title, no marks."""
    return {"title": {"text": title}, "showticklabels": False, "ticks": "", "showgrid": False}
