"""Figures of the page "Watch the catch": the house curve, emitter by emitter, and what is left behind each."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from dashboard.figures.axes import hours_axis, mass_axis
from dashboard.theme import (
    EXPECTED,
    HEIGHT,
    LIGHT,
    LIMIT,
    MAGNET_MARKER,
    TRAP_MARKER,
    Look,
    axis_style,
    label,
    new_figure,
    tint,
)
from dashboard.words import wording
from models.catch.exhaustion.exhaustion_forecast import is_by_emitter
from models.catch.records.job import MAGNET, JobCatch, emitter_curve, house_curve
from models.catch.records.ragged_arrays import Floats

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.catch.records.watch_result import EmitterWatch, SaturatingFit, Watch

AHEAD_SHARE = 0.35
"""How much of the time so far is drawn ahead when nothing says when the catch levels off."""
NAME_SHARE = 0.3
"""A curve that is this near to the left edge has no room for its name before it, on a phone."""
NUMBERS_PX = 18
"""Height of the row of emitter numbers along the top: the time of levelling off stands above it."""
LEVEL_SHARE = 0.95
"""Share of what is left that has come by the time of levelling off, for the shape of the expected band."""


def house_figure(job: JobCatch, watch: Watch, look: Look = LIGHT) -> go.Figure:
    """Magnetite caught so far, the fitted curve, and the band in which it should end.

    `job` as it was known at `watch.at`. Other debris is a second line with open diamonds.
    """
    end = _end_minutes(watch)
    figure = new_figure(look, height=HEIGHT + 40, margin_right=16)
    fit = None if is_by_emitter(job) else watch.fit
    _expected_band(figure, watch, fit, end, look)
    if fit is not None:
        x = np.linspace(0.0, watch.minutes, 80)
        figure.add_scatter(
            x=x,
            y=saturating(x, fit),
            mode="lines",
            hoverinfo="skip",
            line={"color": tint(look.debris, 0.55), "width": 2},
        )
    _measured(figure, *house_curve(job), "magnetite", look, MAGNET_MARKER, "linear", end)
    if watch.non_magnetic_kg > 0:
        _measured(figure, *_other_debris(job), "other debris", look, TRAP_MARKER, "hv", end)
    if not watch.is_finished:
        _level_off_span(figure, watch, look)
    figure.update_xaxes(hours_axis(end, "Flushing hours"))
    figure.update_yaxes(mass_axis(_top_kg(watch), "Caught, dry"))
    return figure


def house_alt(watch: Watch) -> str:
    """What the house curve shows, in words."""
    parts = [f"{wording.kilograms(watch.caught_kg)} of magnetite caught in {wording.duration(watch.minutes)}."]
    if watch.remaining_kg is not None:
        parts.append(f"Still expected: {wording.kilograms_range(watch.remaining_kg)}.")
    if watch.level_off_minutes is not None:
        parts.append(f"It levels off at about {wording.duration(watch.level_off_minutes.p50)} of flushing.")
    if watch.non_magnetic_kg > 0:
        parts.append(f"Other debris: {wording.kilograms(watch.non_magnetic_kg)}.")
    return " ".join(parts)


def emitters_figure(emitters: Sequence[EmitterWatch], look: Look = LIGHT) -> go.Figure:
    """Each emitter in its own place: caught (full bar) and still expected (light bar to the likely most)."""
    names = [f"{emitter.emitter_no}" for emitter in emitters]
    caught = [emitter.caught_kg for emitter in emitters]
    likely = [e.remaining_kg.p50 if e.remaining_kg else 0.0 for e in emitters]
    most = [max(0.0, e.remaining_kg.p90 - e.remaining_kg.p50) if e.remaining_kg else 0.0 for e in emitters]
    figure = new_figure(look, height=100 + 30 * len(names), margin_right=110)
    bar = {"y": names, "orientation": "h", "hoverinfo": "skip"}
    figure.add_bar(x=caught, marker={"color": look.debris}, **bar)
    figure.add_bar(x=likely, marker={"color": tint(look.debris, 0.45)}, **bar)
    figure.add_bar(x=most, marker={"color": tint(look.debris, 0.16)}, **bar)
    ends = [sum(parts) for parts in zip(caught, likely, most, strict=True)]
    states = [f" {wording.EMITTER_STATES[emitter.state]}" for emitter in emitters]
    figure.add_scatter(
        x=ends,
        y=names,
        mode="text",
        text=states,
        textposition="middle right",
        hoverinfo="skip",
        textfont_color=look.text,
        cliponaxis=False,
    )
    figure.update_layout(barmode="stack")
    figure.update_xaxes(mass_axis(max([1e-3, *ends]), "Magnetite, dry"))
    figure.update_yaxes(autorange="reversed", type="category", title_text="Emitter [number]", showgrid=False, ticks="")
    return figure


def emitters_alt(emitters: Sequence[EmitterWatch]) -> str:
    """Which emitters still give and how much has come from each, in words."""
    lines = [
        f"emitter {e.emitter_no} {wording.kilograms(e.caught_kg)}, {wording.EMITTER_STATES[e.state]}" for e in emitters
    ]
    return "Caught so far and state: " + "; ".join(lines) + "."


def emitter_curves_figure(
    job: JobCatch, emitters: Sequence[EmitterWatch], look: Look = LIGHT, *, columns: int = 2
) -> go.Figure:
    """One small curve an emitter, all on one scale, the same emitter always in the same place.

    `job` as it was known at the moment looked at; measured with marks, fitted dashed.
    """
    from plotly.subplots import make_subplots

    rows = max(1, math.ceil(len(emitters) / columns))
    titles = [f"{e.emitter_no} · {wording.EMITTER_STATES[e.state]}" for e in emitters]
    figure = make_subplots(
        rows,
        columns,
        shared_xaxes="all",
        shared_yaxes="all",
        subplot_titles=titles,
        horizontal_spacing=0.06,
        vertical_spacing=min(0.2, 0.35 / rows),
    )
    plain = new_figure(look, height=80 + 130 * rows).layout
    figure.update_layout({key: plain[key] for key in plain if key not in ("xaxis", "yaxis")})
    for place, emitter in enumerate(emitters):
        _small_curve(figure, job, emitter, look, {"row": place // columns + 1, "col": place % columns + 1})
    figure.update_xaxes(**axis_style(look), nticks=4)
    figure.update_yaxes(**axis_style(look), rangemode="tozero", nticks=3)
    figure.update_xaxes(title_text="With the flow [min]", row=rows)
    figure.update_yaxes(title_text="Dry [kg]", col=1)
    figure.update_annotations(font={"size": 13, "color": look.text})
    return figure


def saturating(x_minutes: Floats, fit: SaturatingFit) -> Floats:
    """The fitted curve `asymptote · (1 − exp(−x / tau))` at `x_minutes`, in kilograms."""
    return np.asarray(fit.asymptote * -np.expm1(-np.asarray(x_minutes) / fit.tau), dtype=float)


def watch_rows(watch: Watch) -> list[Mapping[str, object]]:
    """The numbers behind the emitter pictures, one row an emitter, for the table beside them."""
    return [
        {
            "Emitter": e.emitter_no,
            "State": wording.EMITTER_STATES[e.state],
            "Caught, dry [kg]": round(e.caught_kg, 3),
            "Focus [min]": round(e.focus_minutes, 1),
            "Weighings": e.catches,
            "Left, least [kg]": round(max(0.0, e.remaining_kg.p10), 3) if e.remaining_kg else None,
            "Left, middle [kg]": round(e.remaining_kg.p50, 3) if e.remaining_kg else None,
            "Left, most [kg]": round(e.remaining_kg.p90, 3) if e.remaining_kg else None,
        }
        for e in watch.emitters
    ]


def _measured(
    figure: go.Figure, minutes: Floats, kg: Floats, name: str, look: Look, marker: str, shape: str, end: float
) -> None:
    x, y = np.concatenate([[0.0], minutes]), np.concatenate([[0.0], kg])
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines+markers",
        name=name,
        line={"color": look.debris, "width": 2.5, "shape": shape},
        marker={"size": 7, "symbol": marker, "color": look.debris},
        hovertemplate="%{x:.0f} min: %{y:.2f} kg<extra></extra>",
    )
    place = len(x) // 2 if shape == "linear" else -1
    side = {"xanchor": "right", "yanchor": "bottom", "xshift": -6}
    if x[place] < NAME_SHARE * end:  # no room before the curve: the name stands under it
        side = {"xanchor": "left", "yanchor": "top", "xshift": 8}
    figure.add_annotation(label(look, look.debris, name, x[place], y[place], **side))


def _other_debris(job: JobCatch) -> tuple[Floats, Floats]:
    """Flush minutes and cumulative dry mass [kg] of the traps that are no magnet."""
    others = sorted((catch for catch in job.catches if catch.trap != MAGNET), key=lambda catch: catch.minutes)
    return np.array([c.minutes for c in others]), np.cumsum([c.dry_g / 1000.0 for c in others])


def _small_curve(figure: go.Figure, job: JobCatch, emitter: EmitterWatch, look: Look, where: Mapping[str, int]) -> None:
    minutes, kg = emitter_curve(job, emitter.emitter_no)
    x, y = np.concatenate([[0.0], minutes]), np.concatenate([[0.0], kg])
    if emitter.fit is not None:
        grid = np.linspace(0.0, float(x[-1]), 40)
        figure.add_scatter(
            x=grid,
            y=saturating(grid, emitter.fit),
            mode="lines",
            hoverinfo="skip",
            line={"color": look.debris, "dash": EXPECTED, "width": 1.5},
            **where,
        )
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines+markers",
        line={"color": look.debris, "width": 2},
        marker={"size": 5},
        hovertemplate="%{x:.0f} min: %{y:.2f} kg<extra></extra>",
        **where,
    )


def _expected_band(figure: go.Figure, watch: Watch, fit: SaturatingFit | None, end: float, look: Look) -> None:
    """What is left, arriving as the house curve's own fit says, else so that most of it has come by levelling off."""
    left = watch.remaining_kg
    if left is None or watch.is_finished or end <= watch.minutes:
        return
    x = np.linspace(watch.minutes, end, 60)
    level = watch.level_off_minutes
    span = max((level.p50 if level else end) - watch.minutes, 1.0)
    tau = fit.tau if fit is not None else span / -math.log(1 - LEVEL_SHARE)
    arrived = -np.expm1(-(x - watch.minutes) / tau)
    low, mid, high = (watch.caught_kg + max(0.0, q) * arrived for q in (left.p10, left.p50, left.p90))
    skip = {"mode": "lines", "hoverinfo": "skip"}
    figure.add_scatter(x=x, y=low, line={"width": 0}, **skip)
    figure.add_scatter(x=x, y=high, line={"width": 0}, fill="tonexty", fillcolor=tint(look.debris, 0.2), **skip)
    figure.add_scatter(x=x, y=mid, line={"color": look.debris, "width": 2, "dash": EXPECTED}, **skip)
    total = watch.caught_kg + left.p50
    figure.add_annotation(
        label(
            look,
            look.debris,
            f"likely {wording.kilograms(total)} in all",
            end,
            float(mid[-1]),
            xanchor="right",
            yanchor="bottom",
            yshift=4,
            bgcolor=None,
        )
    )


def _level_off_span(figure: go.Figure, watch: Watch, look: Look) -> None:
    level = watch.level_off_minutes
    if level is None or level.p50 <= watch.minutes:
        return
    figure.add_vrect(x0=max(level.p10, 0.0), x1=level.p90, fillcolor=tint(look.ink, 0.1), line_width=0, layer="below")
    figure.add_vline(x=level.p50, line={"color": look.ink, "dash": LIMIT, "width": 1.5})
    moment = watch.level_off_at.get("p50") if watch.level_off_at else None
    words = f"levels off {wording.clock(moment, watch.at)}" if moment else "levels off"
    figure.add_annotation(
        label(look, look.ink, words, level.p50, 1.0, yref="paper", xanchor="right", yanchor="bottom", yshift=NUMBERS_PX)
    )
    figure.update_layout(margin_t=28 + NUMBERS_PX)


def _end_minutes(watch: Watch) -> float:
    level = watch.level_off_minutes
    if watch.is_finished or level is None:
        return max(watch.minutes * (1.02 if watch.is_finished else 1 + AHEAD_SHARE), 1.0)
    return max(min(level.p90 * 1.05, 3 * watch.minutes + 60), watch.minutes * 1.02, 1.0)


def _top_kg(watch: Watch) -> float:
    left = max(0.0, watch.remaining_kg.p90) if watch.remaining_kg and not watch.is_finished else 0.0
    return max(watch.caught_kg + left, watch.non_magnetic_kg)
