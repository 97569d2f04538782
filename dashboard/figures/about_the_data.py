"""Figure of the page "About the data": jobs by month of visit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.theme import LIGHT, Look, new_figure, tint
from dashboard.words import wording

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go


def visits_figure(by_month: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Jobs by month of visit; simulated jobs hatched. `by_month`: columns month, real, simulated."""
    figure = new_figure(look, height=240)
    figure.add_bar(
        x=by_month["month"],
        y=by_month["real"],
        marker={"color": look.ink},
        name="own records",
        hovertemplate="%{x|%B %Y}: %{y} own<extra></extra>",
    )
    figure.add_bar(
        x=by_month["month"],
        y=by_month["simulated"],
        name="simulated",
        marker={"color": tint(look.ink, 0.3), "pattern": {"shape": "/", "fgcolor": look.ink, "size": 6}},
        hovertemplate="%{x|%B %Y}: %{y} simulated<extra></extra>",
    )
    figure.update_layout(barmode="stack", bargap=0.15)
    figure.update_xaxes(title_text="Month of the visit", tickformat="%b %Y", nticks=5)
    figure.update_yaxes(title_text="Jobs [count]", rangemode="tozero", nticks=5)
    return figure


def visits_alt(by_month: pd.DataFrame) -> str:
    """Span and number of jobs, simulated or not, in words."""
    if not len(by_month):
        return "No visits with a date."
    own, simulated = int(by_month["real"].sum()), int(by_month["simulated"].sum())
    return (
        f"Visits by month from {by_month['month'].iloc[0]:%B %Y} to {by_month['month'].iloc[-1]:%B %Y}: "
        f"{wording.count(own, 'own job')} and {wording.count(simulated, 'simulated job')}."
    )
