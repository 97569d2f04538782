"""Figures of the page "Job book": one job's readings. Its debris curves are in `debris_curves`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dashboard.theme import EXPECTED, LIGHT, Look, label, new_figure

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

HEAT = (("flow_temp_c", "flow", "solid"), ("return_temp_c", "return", EXPECTED))


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
    """Flow and return temperature over the time of day; flow solid, return dashed, named where they differ most."""
    figure = new_figure(look, height=220)
    widest = _furthest_apart(readings)
    for column, name, dash in HEAT:
        known = readings.dropna(subset=[column]).sort_values("read_at")
        if not len(known):
            continue
        figure.add_scatter(x=known["read_at"], y=known[column], mode="lines", name=name,
                           line={"color": look.heat, "width": 2, "dash": dash},
                           hovertemplate=name + " %{x|%H:%M}: %{y:.0f} °C<extra></extra>")  # fmt: skip
        at = known.iloc[len(known) // 2] if widest is None else widest
        is_above = widest is None or widest[column] == max(widest[each] for each, *_ in HEAT)
        figure.add_annotation(label(look, look.heat, name, at["read_at"], float(at[column]), bgcolor=None,
                                    yanchor="bottom" if is_above else "top", yshift=2 if is_above else -2))  # fmt: skip
    figure.update_xaxes(title_text="Time of day", tickformat="%H:%M", nticks=6)
    figure.update_yaxes(title_text="Temperature [°C]", nticks=5)
    return figure


def _furthest_apart(readings: pd.DataFrame) -> dict[str, Any] | None:
    """The reading in which flow and return differ most, not at the very edge; None where none has both."""
    both = readings.dropna(subset=[column for column, *_ in HEAT]).sort_values("read_at", ignore_index=True)
    inner = both.iloc[1:-1] if len(both) > 3 else both
    if not len(inner):
        return None
    apart = (inner["flow_temp_c"] - inner["return_temp_c"]).abs()
    return {str(name): value for name, value in inner.loc[[apart.idxmax()]].to_dict("records")[0].items()}


def readings_alt(readings: pd.DataFrame, column: str, title: str, unit: str) -> str:
    """Range and last value of one reading, in words."""
    known = readings.dropna(subset=[column]).sort_values("read_at")[column]
    if not len(known):
        return f"{title}: no readings."
    return (
        f"{title} from {len(known)} readings: between {known.min():.0f} and {known.max():.0f} {unit}, "
        f"last {known.iloc[-1]:.0f} {unit}."
    )
