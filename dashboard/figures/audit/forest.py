"""A forest of effects with the words above each line, so that it reads the same on a phone and at a desk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dashboard.theme import LIGHT, Look, new_figure, tint

if TYPE_CHECKING:
    import plotly.graph_objects as go

ROW_PX = 64
WORDS_AT, LINE_AT, BARE_AT = -0.46, 0.24, 0.38
"""Heights within a row of one, downwards: words, the line below them, the bare difference below that."""


@dataclass(frozen=True, slots=True)
class ForestRow:
    """One effect: `name` and `said` above the line, `behind` at the right; (middle, low, high) or None where refused.

    `bare` is (middle, low, high) before adjusting. `is_told` fills the mark.
    """

    name: str
    said: str
    behind: str
    effect: tuple[float, float, float] | None
    colour: str
    is_told: bool = False
    bare: tuple[float, float, float] | None = None


def forest(rows: Sequence[ForestRow], title: str, sides: tuple[str, str], look: Look = LIGHT) -> go.Figure:
    """The rows from top to bottom; `sides` say what lies left and right of zero."""
    figure = new_figure(look, height=96 + ROW_PX * len(rows))
    low, high = _ends(rows)
    for number, row in enumerate(rows):
        _words(figure, row, number, look)
        if number:
            figure.add_hline(y=number - 0.5, line={"color": look.grid, "width": 1}, layer="below")
        if row.bare is not None:
            _interval(figure, row.bare, number + BARE_AT, tint(look.muted, 0.55), width=1.5, size=6, symbol="line-ns")
        if row.effect is not None:
            symbol = "diamond" if row.is_told else "circle"
            _interval(
                figure,
                row.effect,
                number + LINE_AT,
                row.colour,
                width=3,
                size=11,
                symbol=symbol,
                inside=row.colour if row.is_told else look.page,
            )
    figure.add_vline(x=0, line={"color": look.muted, "width": 1.2}, layer="below")
    for side, text, anchor in ((low, sides[0], "left"), (high, sides[1], "right")):
        figure.add_annotation(
            x=side,
            y=1,
            yref="paper",
            yanchor="bottom",
            xanchor=anchor,
            text=text,
            showarrow=False,
            font={"color": look.muted, "size": 13},
        )
    figure.update_layout(showlegend=False, margin={"l": 8, "r": 8, "t": 30, "b": 12})
    figure.update_xaxes(title_text=title, nticks=6, tickangle=0, range=[low, high])
    figure.update_yaxes(
        range=[len(rows) - 0.4, -0.6], showticklabels=False, ticks="", showgrid=False, showline=False, title_text=""
    )
    return figure


def _ends(rows: Sequence[ForestRow]) -> tuple[float, float]:
    """Ends of the axis: every adjusted interval whole; a bare one may run out of the picture."""
    values = [end for row in rows for end in (row.effect or ())] + [row.bare[0] for row in rows if row.bare]
    low, high = min([0.0, *values]), max([0.0, *values])
    room = 0.04 * max(high - low, 1.0)
    return low - room, high + room


def _words(figure: go.Figure, row: ForestRow, number: int, look: Look) -> None:
    common = {"xref": "paper", "y": number + WORDS_AT, "yanchor": "top", "showarrow": False, "borderpad": 0}
    said = f"<b>{row.name}</b><br><span style='color:{row.colour}'>{row.said}</span>"
    figure.add_annotation(
        x=0,
        xanchor="left",
        align="left",
        text=said,
        bgcolor=tint(look.page, 0.85),
        font={"size": 13, "color": look.text},
        **common,
    )
    figure.add_annotation(
        x=1,
        xanchor="right",
        align="right",
        text=row.behind,
        bgcolor=tint(look.page, 0.85),
        font={"size": 12, "color": look.muted},
        **common,
    )


def _interval(
    figure: go.Figure,
    effect: tuple[float, float, float],
    y: float,
    colour: str,
    *,
    width: float,
    size: float,
    symbol: str,
    inside: str = "",
) -> None:
    middle, low, high = effect
    figure.add_scatter(x=[low, high], y=[y, y], mode="lines", line={"color": colour, "width": width}, hoverinfo="skip")
    figure.add_scatter(
        x=[middle],
        y=[y],
        mode="markers",
        marker={"color": inside or colour, "size": size, "symbol": symbol, "line": {"color": colour, "width": 2}},
        hovertemplate=f"{middle:.1f} ({low:.1f} to {high:.1f})<extra></extra>",
    )
