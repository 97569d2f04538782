"""Figures of the page "Job book": many debris curves over the band of similar jobs, and one job's readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dashboard import wording
from dashboard.figures.axes import hours_axis, mass_axis
from dashboard.figures.curves import Band
from dashboard.theme import EXPECTED, HEIGHT, LIGHT, Look, label, new_figure, tint

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

DRAWN_SHARE = 0.97
"""Share of jobs that end within the frame of the overlaid curves; the longest and heaviest run off it."""


def curves_figure(
    curves: pd.DataFrame, band: Band | None, chosen: tuple[str, str] | None, look: Look = LIGHT
) -> go.Figure:
    """Debris curves of many jobs as thin lines, the band of similar jobs, the chosen job strong.

    `curves`: magnet rows of `ftr_catch_curve`; `chosen`: (firm_id, job_id).
    """
    figure = new_figure(look, height=HEIGHT + 60)
    longest, top = _frame(curves)
    x, y = _joined(curves)
    figure.add_scatter(x=x, y=y, mode="lines", line={"color": tint(look.muted, 0.35), "width": 1}, hoverinfo="skip",
                       connectgaps=False)  # fmt: skip
    if band is not None:
        longest, top = max(longest, float(band.minutes[-1])), max(top, float(band.high_kg[-1]))
        _draw_band(figure, band, look)
    if chosen is not None:
        own = curves[(curves["firm_id"] == chosen[0]) & (curves["job_id"] == chosen[1])]
        longest, top = np.fmax([longest, top], own[["minutes_since_start", "cumulative_magnetite_kg"]].max())
        _draw_chosen(figure, own, chosen[1], look)
    figure.update_xaxes(hours_axis(longest, "Flush time, nights left out"))
    figure.update_yaxes(mass_axis(top, "Magnetite, dry"))
    return figure


def curves_alt(jobs: int, band: Band | None, chosen_id: str | None, chosen_kg: float | None) -> str:
    """What the overlaid curves show, in words."""
    parts = [f"Magnetite caught over flush time, {wording.count(jobs, 'job')} overlaid."]
    if band is not None:
        parts.append(
            f"Of {band.jobs} similar jobs the middle one ends at {wording.kilograms(float(band.middle_kg[-1]))}, "
            f"8 in 10 between {wording.kilograms(float(band.low_kg[-1]))} and "
            f"{wording.kilograms(float(band.high_kg[-1]))}."
        )
    if chosen_id is not None:
        parts.append(f"Job {chosen_id} ends at {wording.kilograms(chosen_kg)}.")
    return " ".join(parts)


def readings_figure(readings: pd.DataFrame, column: str, title: str, colour: str, look: Look = LIGHT) -> go.Figure:
    """One reading over the time of day: `column` of `readings` against `read_at`; gaps stay gaps."""
    known = readings.dropna(subset=[column]).sort_values("read_at")
    figure = new_figure(look, height=220)
    marks = "lines+markers" if len(known) < 60 else "lines"
    figure.add_scatter(x=known["read_at"], y=known[column], mode=marks, line={"color": colour, "width": 2},
                       marker={"size": 6}, hovertemplate="%{x|%H:%M}: %{y:.1f}<extra></extra>")  # fmt: skip
    figure.update_xaxes(title_text="Time of day", tickformat="%H:%M", nticks=6)
    figure.update_yaxes(title_text=title, rangemode="tozero", nticks=5)
    return figure


def heat_figure(readings: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Flow and return temperature over the time of day; flow solid, return dashed."""
    figure = new_figure(look, height=220)
    for column, name, dash in (("flow_temp_c", "flow", "solid"), ("return_temp_c", "return", EXPECTED)):
        known = readings.dropna(subset=[column]).sort_values("read_at")
        if not len(known):
            continue
        figure.add_scatter(x=known["read_at"], y=known[column], mode="lines", name=name,
                           line={"color": look.heat, "width": 2, "dash": dash},
                           hovertemplate=name + " %{x|%H:%M}: %{y:.0f} °C<extra></extra>")  # fmt: skip
        side = "bottom" if name == "flow" else "top"
        middle = known.iloc[len(known) // 2]
        figure.add_annotation(label(look, look.heat, name, middle["read_at"], float(middle[column]), bgcolor=None,
                                    yanchor=side))  # fmt: skip
    figure.update_xaxes(title_text="Time of day", tickformat="%H:%M", nticks=6)
    figure.update_yaxes(title_text="Temperature [°C]", nticks=5)
    return figure


def readings_alt(readings: pd.DataFrame, column: str, title: str, unit: str) -> str:
    """Range and last value of one reading, in words."""
    known = readings.dropna(subset=[column]).sort_values("read_at")[column]
    if not len(known):
        return f"{title}: no readings."
    return (
        f"{title} from {len(known)} readings: between {known.min():.0f} and {known.max():.0f} {unit}, "
        f"last {known.iloc[-1]:.0f} {unit}."
    )


def _frame(curves: pd.DataFrame) -> tuple[float, float]:
    """Minutes and kilograms that hold the ends of all but the outermost jobs, so that one does not dwarf the rest."""
    if not len(curves):
        return 60.0, 1.0
    ends = curves.groupby(["firm_id", "job_id"])[["minutes_since_start", "cumulative_magnetite_kg"]].max()
    longest, top = ends.quantile(DRAWN_SHARE)
    return float(longest), float(top)


def _joined(curves: pd.DataFrame) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Every curve in one line with gaps between jobs: one trace draws a thousand jobs quickly."""
    x: list[float] = []
    y: list[float] = []
    for _, own in curves.groupby(["firm_id", "job_id"], sort=False):
        x += [0.0, *own["minutes_since_start"], np.nan]
        y += [0.0, *own["cumulative_magnetite_kg"], np.nan]
    return np.asarray(x, dtype=float), np.asarray(y, dtype=float)


def _draw_band(figure: go.Figure, band: Band, look: Look) -> None:
    skip = {"mode": "lines", "hoverinfo": "skip"}
    figure.add_scatter(x=band.minutes, y=band.low_kg, line={"width": 0}, **skip)
    figure.add_scatter(x=band.minutes, y=band.high_kg, line={"width": 0}, fill="tonexty",
                       fillcolor=tint(look.debris, 0.22), **skip)  # fmt: skip
    figure.add_scatter(x=band.minutes, y=band.middle_kg, line={"color": look.debris, "width": 2, "dash": EXPECTED},
                       **skip)  # fmt: skip
    figure.add_annotation(label(look, look.debris, "8 in 10 similar jobs", float(band.minutes[-1]),
                                float(band.high_kg[-1]), xanchor="right", yanchor="bottom"))  # fmt: skip


def _draw_chosen(figure: go.Figure, own: pd.DataFrame, name: str, look: Look) -> None:
    x, y = [0.0, *own["minutes_since_start"]], [0.0, *own["cumulative_magnetite_kg"]]
    figure.add_scatter(x=x, y=y, mode="lines+markers", line={"color": look.text, "width": 2.5},
                       marker={"size": 7, "color": look.text},
                       hovertemplate="%{x:.0f} min: %{y:.2f} kg<extra></extra>")  # fmt: skip
    figure.add_annotation(label(look, look.text, f"<b>{name}</b>", x[-1], y[-1], xanchor="left", xshift=6))
