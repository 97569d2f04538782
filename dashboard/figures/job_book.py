"""Figures of the page "Job book": one job's readings. Its debris curves are in `debris_curves`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.theme import LIGHT, LIMIT, Look, label, new_figure

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

HEAT = (("flow_temp_c", "flow", "solid"), ("return_temp_c", "return", LIMIT))
HEIGHT = 220
NAME_PX = 17
"""Names of two lines lie so far apart, however close the lines end."""
AXES_PX = 85
"""What margins and the time axis take of the height."""


def readings_figure(readings: pd.DataFrame, column: str, title: str, colour: str, look: Look = LIGHT) -> go.Figure:
    """One reading over the time of day: `column` of `readings` against `read_at`; gaps stay gaps."""
    known = readings.dropna(subset=[column]).sort_values("read_at")
    figure = new_figure(look, height=HEIGHT)
    marks = "lines+markers" if len(known) < 60 else "lines"
    figure.add_scatter(
        x=known["read_at"],
        y=known[column],
        mode=marks,
        line={"color": colour, "width": 2},
        marker={"size": 6},
        hovertemplate="%{x|%H:%M}: %{y:.1f}<extra></extra>",
    )
    figure.update_xaxes(title_text="Time of day", tickformat="%H:%M", nticks=6)
    figure.update_yaxes(title_text=title, rangemode="tozero", nticks=5)
    return figure


def heat_figure(readings: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Flow and return temperature over the time of day; flow solid, return dotted, named behind their ends."""
    figure = new_figure(look, height=HEIGHT, margin_right=56)
    known = {column: readings.dropna(subset=[column]).sort_values("read_at") for column, *_ in HEAT}
    for column, name, dash in HEAT:
        if len(known[column]):
            figure.add_scatter(
                x=known[column]["read_at"],
                y=known[column][column],
                mode="lines",
                name=name,
                line={"color": look.heat, "width": 2, "dash": dash},
                hovertemplate=name + " %{x|%H:%M}: %{y:.0f} °C<extra></extra>",
            )
    ends = {column: float(rows[column].iloc[-1]) for column, rows in known.items() if len(rows)}
    for (column, name, _), shift in zip(HEAT, _apart(ends, readings), strict=True):
        if column in ends:
            figure.add_annotation(
                label(
                    look,
                    look.heat,
                    name,
                    1.0,
                    ends[column],
                    xref="paper",
                    xanchor="left",
                    xshift=4,
                    yanchor="middle",
                    yshift=shift,
                    bgcolor=None,
                )
            )
    figure.update_xaxes(title_text="Time of day", tickformat="%H:%M", nticks=6)
    figure.update_yaxes(title_text="Temperature [°C]", nticks=5)
    return figure


def _apart(ends: dict[str, float], readings: pd.DataFrame) -> tuple[float, float]:
    """How far up [px] the names of flow and return are moved from the ends of their lines, so that both can be read."""
    if len(ends) < len(HEAT):
        return 0.0, 0.0
    measured = readings[list(ends)]
    span = max(float(measured.max().max() - measured.min().min()), 1.0)
    flow, back = ends.values()
    gap_px = abs(flow - back) / span * (HEIGHT - AXES_PX)
    shift = max(0.0, NAME_PX - gap_px) / 2
    return (shift, -shift) if flow >= back else (-shift, shift)


def readings_alt(readings: pd.DataFrame, column: str, title: str, unit: str) -> str:
    """Range and last value of one reading, in words."""
    known = readings.dropna(subset=[column]).sort_values("read_at")[column]
    if not len(known):
        return f"{title}: no readings."
    return (
        f"{title} from {len(known)} readings: between {known.min():.0f} and {known.max():.0f} {unit}, "
        f"last {known.iloc[-1]:.0f} {unit}."
    )
