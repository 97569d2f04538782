"""Figure of other plans on "Price a job": how far each change of plan moves one thing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from dashboard.theme import LIGHT, Look, label, new_figure, tint
from dashboard.words import wording

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.quote.offers.what_if import WhatIf

Measure = Literal["magnetite_kg", "site_minutes", "price", "callbacks"]
_PRACTICES = {
    "predose_days": "Pre-dose",
    "heat_source": "Heat",
    "connection": "Hoses at",
    "isolation": "Flow",
    "agitation": "Shaken by",
}

_SETTINGS = {
    ("heat_source", "both"): "boiler and heater",
    ("isolation", "groups"): "in groups",
    ("agitation", "both"): "bounce and vibration",
}


def plan_name(change: WhatIf) -> str:
    """A change of plan in a few words: `Pre-dose: 7 days`, `Heat: none`."""
    return f"{_PRACTICES[change.practice]}: {setting(change.practice, change.instead)}"


def planned_names(changes: Sequence[WhatIf]) -> list[str]:
    """What is planned now, a practice each, those not said left out."""
    found = {change.practice: change.planned for change in changes if change.planned is not None}
    return [f"{_PRACTICES[practice].lower()} {setting(practice, planned)}" for practice, planned in found.items()]


def setting(practice: str, word: str) -> str:
    """One setting of a practice as a person reads it."""
    if practice != "predose_days":
        return _SETTINGS.get((practice, word)) or wording.plain(word)
    return "none" if word == "0" else wording.count(round(float(word)), "day")


def amount_of(change: WhatIf, measure: Measure) -> float:
    """How far one thing moves: kg, minutes, money, or callbacks in 100 jobs (zero where nothing is known)."""
    if measure == "callbacks":
        return 0.0 if change.callback_change is None else 100 * change.callback_change.change
    return float(getattr(change, measure))


def told(change: WhatIf, measure: Measure, currency: str) -> str:
    """A change with its sign; of callbacks with its interval."""
    moved = change.callback_change
    if measure != "callbacks":
        return signed(measure, amount_of(change, measure), currency)
    if moved is None:
        return "not known"
    low, high = (wording.signed_per_100(end) for end in (moved.low, moved.high))
    return f"{wording.signed_per_100(moved.change)} ({low} to {high})"


def signed(measure: Measure, amount: float, currency: str) -> str:
    """A change with its sign, in the unit of what is measured."""
    if measure == "magnetite_kg":
        return wording.signed_kilograms(amount)
    if measure == "site_minutes":
        return wording.signed_duration(amount)
    if measure == "callbacks":
        return wording.signed_per_100(amount / 100)
    sign = "+" if amount > 0 else "−" if amount < 0 else "±"
    return f"{sign}{wording.money(abs(amount), currency)}"


def what_if_figure(changes: Sequence[WhatIf], measure: Measure, currency: str, look: Look = LIGHT) -> go.Figure:
    """A bar for each change of plan from zero, to the left less; callbacks with a line for their interval."""
    colour = look.debris if measure == "magnetite_kg" else look.ink
    scale = 1 / wording.MINUTES_PER_HOUR if measure == "site_minutes" else 1.0
    names = [plan_name(change).replace(": ", ":<br>", 1) for change in changes]
    amounts = np.array([amount_of(change, measure) for change in changes])
    ends = np.array([_ends(change, measure) for change in changes]).reshape(-1, 2)
    reach = max(float(np.abs(ends).max(initial=0.0)) * scale, 0.01)
    figure = new_figure(look, height=90 + 40 * len(names))
    figure.add_bar(y=names, x=amounts * scale, orientation="h", marker={"color": tint(colour, 0.45)}, hoverinfo="skip")
    if measure == "callbacks":
        for name, (low, high) in zip(names, ends, strict=True):
            figure.add_scatter(
                x=[low, high], y=[name, name], mode="lines", hoverinfo="skip", line={"color": look.text, "width": 1.5}
            )
    for name, amount, (low, high) in zip(names, amounts, ends, strict=True):
        end, side, shift = (high, "left", 4) if amount >= 0 else (low, "right", -4)
        said = signed(measure, amount, currency)
        figure.add_annotation(label(look, look.text, said, end * scale, name, xanchor=side, xshift=shift))
    figure.update_xaxes(
        title_text=_axis_title(measure, currency),
        range=[-2.2 * reach, 2.2 * reach],
        nticks=5,
        zeroline=True,
        zerolinecolor=look.muted,
    )
    figure.update_yaxes(autorange="reversed", showgrid=False, ticks="", title_text="", tickfont_color=look.text)
    return figure


def _axis_title(measure: Measure, currency: str) -> str:
    title, unit = {
        "magnetite_kg": ("Magnetite, dry", "kg"),
        "site_minutes": ("Time on site", "h"),
        "price": ("Price before tax", currency),
        "callbacks": ("Callbacks", "jobs in 100"),
    }[measure]
    return f"{title}, change [{unit}]"


def _ends(change: WhatIf, measure: Measure) -> tuple[float, float]:
    """Where the label may stand: the ends of the interval of callbacks, else the end of the bar."""
    moved, amount = change.callback_change, amount_of(change, measure)
    return (100 * moved.low, 100 * moved.high) if measure == "callbacks" and moved else (amount, amount)


def what_if_alt(changes: Sequence[WhatIf], measure: Measure, currency: str) -> str:
    """What the bars show, in words, the largest change first."""
    ranked = sorted(changes, key=lambda change: -abs(amount_of(change, measure)))
    said = "; ".join(f"{plan_name(c)} {told(c, measure, currency)}" for c in ranked)
    return f"Change from the plan as it stands: {said}."
