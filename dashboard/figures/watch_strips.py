"""Below the house curve: where the flow was, how much flow, how hot; and marks where a warning arose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dashboard.theme import Look, axis_style, label
from dashboard.words import wording
from models.catch.records.flush_clock import minutes_at
from models.catch.records.ragged_arrays import Floats

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

    from models.catch.records.job import JobCatch
    from models.catch.records.watch_result import Watch

STRIP_PX = 76
GAP_PX = 26
MARK_FACTS = ("since_minutes", "arose_minutes", "at_minutes", "minutes")
"""Facts of a warning that say at which flush minute it arose; without one it arose now."""
SHORTEST_SHARE = 0.05
"""A stretch of the flush shorter than this share has no room for its number."""


@dataclass(frozen=True, slots=True, eq=False)
class Strips:
    """What is drawn below a curve. Minutes of flush throughout, shape (readings,); NaN where nothing was read.

    `focus`: (from, to, emitter or None) in order; `marks`: (minute, code) of each warning.
    """

    minutes: Floats
    flow_l_min: Floats
    flow_temp_c: Floats
    return_temp_c: Floats
    focus: tuple[tuple[float, float, int | None], ...]
    marks: tuple[tuple[float, str], ...]


def strips_of(job: JobCatch, readings: pd.DataFrame, watch: Watch) -> Strips:
    """Readings (rows of the job log) up to the moment looked at, stretches of the flow by the weighings, warnings."""
    known = readings[readings["read_at"] <= watch.at]
    minutes = np.array([minutes_at(job.days, at.to_pydatetime()) for at in known["read_at"]], dtype=float)
    flow, hot, back = (
        known[name].to_numpy(dtype=float, na_value=np.nan) for name in ("flow_l_min", "flow_temp_c", "return_temp_c")
    )
    marks = tuple((_arose(finding.facts, watch.minutes), finding.code) for finding in watch.findings)
    return Strips(minutes, flow, hot, back, _focus(job, watch.minutes), marks)


def _arose(facts: Mapping[str, object], now: float) -> float:
    for name in MARK_FACTS:
        value = facts.get(name)
        if isinstance(value, int | float) and 0 <= value <= now:
            return float(value)
    return now


def _focus(job: JobCatch, now: float) -> tuple[tuple[float, float, int | None], ...]:
    """Stretches in which one emitter had the flow: between weighings of the magnet, equal neighbours joined."""
    stretches: list[tuple[float, float, int | None]] = []
    opened = 0.0
    for catch in job.magnet_catches():
        if catch.minutes > now + 1.0 / 60.0:
            break
        if stretches and stretches[-1][2] == catch.emitter_no:
            stretches[-1] = (stretches[-1][0], catch.minutes, catch.emitter_no)
        else:
            stretches.append((opened, catch.minutes, catch.emitter_no))
        opened = catch.minutes
    return tuple(stretches)


def add_strips(figure: go.Figure, strips: Strips, look: Look) -> go.Figure:
    """The house figure with what was read below it, each strip on its own axis; it grows by what is added."""
    wanted = [
        ("Flow [L/min]", look.flow, ((strips.flow_l_min, "solid"),)),
        (_heat_title(strips), look.heat, ((strips.flow_temp_c, "solid"), (strips.return_temp_c, "dot"))),
    ]
    drawn = [strip for strip in wanted if any(np.isfinite(values).any() for values, _ in strip[2])]
    top_px = float(figure.layout.height)
    whole_px = top_px + len(drawn) * (STRIP_PX + GAP_PX)
    margins = figure.layout.margin
    inside = whole_px - float(margins.t or 0) - float(margins.b or 0) - 40  # the axis title below
    share, gap = STRIP_PX / inside, GAP_PX / inside
    figure.update_layout(height=whole_px, yaxis_domain=[len(drawn) * (share + gap), 1.0])
    for place, (title, colour, lines) in enumerate(drawn):
        bottom = (len(drawn) - 1 - place) * (share + gap)
        _strip(figure, place + 2, (bottom, bottom + share), title, colour, strips, lines, look)
    if drawn:
        figure.update_xaxes(anchor=f"y{len(drawn) + 1}")
    _focus_changes(figure, strips, look)
    _marks(figure, strips, look)
    return figure


def _heat_title(strips: Strips) -> str:
    """The title of the heat says which line is which: there is no room for names behind them."""
    names = [
        name
        for name, values in (("flow", strips.flow_temp_c), ("return dotted", strips.return_temp_c))
        if np.isfinite(values).any()
    ]
    return f"Water [°C]: {', '.join(names)}"


def _strip(
    figure: go.Figure,
    number: int,
    domain: tuple[float, float],
    title: str,
    colour: str,
    strips: Strips,
    lines: tuple[tuple[Floats, str], ...],
    look: Look,
) -> None:
    axis = {**axis_style(look), "domain": list(domain), "anchor": "x", "nticks": 3, "rangemode": "tozero"}
    figure.update_layout({f"yaxis{number}": axis})
    for values, dash in lines:
        read = np.isfinite(values)
        mode = "lines+markers" if read.sum() < 60 else "lines"
        figure.add_scatter(
            x=strips.minutes[read],
            y=values[read],
            yaxis=f"y{number}",
            mode=mode,
            marker={"size": 4},
            line={"color": colour, "width": 1.6, "dash": dash},
            hovertemplate="%{x:.0f} min: %{y:.0f}<extra></extra>",
        )
    figure.add_annotation(
        label(look, colour, title, 0.0, domain[1], xref="paper", yref="paper", xanchor="left", yanchor="bottom")
    )


def _focus_changes(figure: go.Figure, strips: Strips, look: Look) -> None:
    """A line where the flow moved on, and along the top the emitter that had it."""
    if len({emitter for _, _, emitter in strips.focus}) < 2:
        return
    longest = max(figure.layout.xaxis.range[1], 1.0)
    for start, end, emitter in strips.focus:
        if start > 0:
            figure.add_shape(
                type="line",
                x0=start,
                x1=start,
                yref="paper",
                y0=0,
                y1=1,
                layer="below",
                line={"color": look.grid, "width": 1},
            )
        if (end - start) / longest >= SHORTEST_SHARE:
            words = "all" if emitter is None else f"{emitter}"
            figure.add_annotation(label(look, look.flow, words, (start + end) / 2, 1.0, yref="paper", yanchor="bottom"))


def _marks(figure: go.Figure, strips: Strips, look: Look) -> None:
    """On the time axis, where each warning arose, the sign that stands before its sentence above."""
    if not strips.marks:
        return
    moments = sorted({minute for minute, _ in strips.marks})
    figure.add_scatter(
        x=moments,
        y=[0.0] * len(moments),
        mode="markers+text",
        name="warning",
        cliponaxis=False,
        marker={"size": 17, "color": look.accent, "line": {"color": look.page, "width": 1}},
        text=["<b>!</b>"] * len(moments),
        textfont={"color": look.on_accent, "size": 12},
        textposition="middle center",
        hovertemplate="warning at %{x:.0f} min<extra></extra>",
    )


def strips_alt(strips: Strips) -> str:
    """What stands below the curve, in words."""
    parts = []
    moved = [f"emitter {e}" if e is not None else "whole system" for _, _, e in strips.focus]
    if len(moved) > 1:
        parts.append(f"The flow was on {wording.listed(moved[-6:])}.")
    for name, values, unit in (("Flow", strips.flow_l_min, "L/min"), ("Flow temperature", strips.flow_temp_c, "°C")):
        read = values[np.isfinite(values)]
        if read.size:
            parts.append(f"{name} {read.min():.0f} to {read.max():.0f} {unit}, last {read[-1]:.0f}.")
    if strips.marks:
        parts.append(f"{wording.count(len(strips.marks), 'warning')} marked.")
    return " ".join(parts)
