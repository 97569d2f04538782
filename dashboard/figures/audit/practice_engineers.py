"""The funnel of engineers: callbacks seen over expected, the limits that chance keeps, one engineer marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dashboard.theme import EXPECTED, LIGHT, LIMIT, Look, label, new_figure, tint
from dashboard.words.literal import in_figure

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.practice.results.engineer_results import EngineerPoint, Funnel

TALLEST = 4.0
"""Ratios above it are drawn only where an engineer stands there: the limits at few expected callbacks run far up."""


def named(point: EngineerPoint, funnel: Funnel) -> str:
    """The engineer, with the firm where the records hold several: the same id in two firms is two people."""
    is_one_firm = len({each.firm_id for each in funnel.engineers}) == 1
    return point.engineer_id if is_one_firm else f"{point.engineer_id}, {point.firm_id}"


def funnel_figure(funnel: Funnel, chosen: EngineerPoint | None = None, look: Look = LIGHT) -> go.Figure:
    """Every engineer with enough jobs. Only the chosen one and those beyond the limits are named."""
    figure = new_figure(look)
    shown = [each for each in funnel.engineers if each.ratio is not None]
    _limits(figure, funnel, look)
    for each in shown:
        name, is_chosen = in_figure(named(each, funnel)), each == chosen
        is_outside = each.place != "within limits"
        figure.add_scatter(
            x=[each.expected],
            y=[each.ratio],
            mode="markers",
            hovertemplate=f"{name}: {each.observed} seen, {each.expected:.1f} expected<extra></extra>",
            marker={
                "color": look.debris if is_outside else look.ink if is_chosen else tint(look.ink, 0.45),
                "size": 14 if is_chosen else 9,
                "symbol": "diamond" if is_outside else "circle",
                "line": {"color": look.page, "width": 1},
            },
        )
        if is_chosen or is_outside:
            figure.add_annotation(label(look, look.text, name, each.expected, each.ratio, yshift=18))
    figure.add_hline(y=1, line={"color": look.muted, "width": 1}, layer="below")
    ratios, expected = [each.ratio or 0.0 for each in shown], [each.expected or 0.0 for each in shown]
    figure.update_xaxes(
        title_text="Callbacks expected of the jobs [count]", nticks=6, range=[0, 1.12 * max([1.0, *expected])]
    )
    figure.update_yaxes(
        title_text="Seen over expected [ratio]",
        range=[0, max([min(TALLEST, _highest(funnel)), *(1.15 * r for r in ratios)])],
    )
    return figure


def _highest(funnel: Funnel) -> float:
    return float(np.max(funnel.wide_high_998, initial=1.5))


def _limits(figure: go.Figure, funnel: Funnel, look: Look) -> None:
    lines = (
        (funnel.wide_low_95, funnel.wide_high_95, EXPECTED, "95 %"),
        (funnel.wide_low_998, funnel.wide_high_998, LIMIT, "99.8 %"),
    )
    ends = [each.expected or 0.0 for each in funnel.engineers if each.expected is not None]
    for low, high, dash, name in lines:
        for values in (low, high):
            figure.add_scatter(
                x=funnel.grid,
                y=values,
                mode="lines",
                hoverinfo="skip",
                line={"color": look.muted, "dash": dash, "width": 1.5},
            )
        if len(funnel.grid) and ends:
            at = 1.08 * max(ends)
            figure.add_annotation(label(look, look.muted, name, at, float(np.interp(at, funnel.grid, high)), yshift=9))


def funnel_alt(funnel: Funnel) -> str:
    """Each engineer's place, in words."""
    told = (
        f"{named(e, funnel)}: {e.observed} seen, {e.expected:.1f} expected, {e.place}"
        for e in funnel.engineers
        if e.ratio is not None and e.expected is not None
    )
    return f"Debris callbacks seen over expected by engineer. {'; '.join(told)}."
