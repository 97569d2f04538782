"""Figures of the page "How good are the forecasts": coverage, error beside the peers, and where outcomes fell."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from dashboard.theme import HEIGHT, LIGHT, LIMIT, Look, label, new_figure, tint
from dashboard.words import wording
from dashboard.words.forecast_words import PEER_NAMES
from models.quote.coverage_tests import PROMISED, Held, evenness, judged

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.quote.backtest import TargetScores
    from models.quote.base.quote_result import Target

OFFSET = 0.2
"""Rows of the two ranges lie so far above and below the middle of their group."""


def colour_of(scores: TargetScores, look: Look) -> str:
    """The hue of a target: debris for kilograms, ink for time."""
    return look.debris if scores.unit == "kg" else look.ink


def coverage_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """How often outcomes fell in the 8-in-10 and the 9-in-10 range, overall and by group, with exact limits.

    The shaded band is how far each row may lie from its promise.
    """
    rows = judged(scores, "share_80")
    figure = new_figure(look, height=110 + 46 * len(rows))
    for place, (field, promised) in enumerate(PROMISED.items()):
        at = [row + (-OFFSET, OFFSET)[place] for row in range(len(rows))]
        lines = judged(scores, field)
        _draw_bands(figure, lines, at, look)
        symbol = ("circle", "diamond-open")[place]
        figure.add_scatter(**_reached(lines, at, colour_of(scores, look), symbol))
        figure.add_vline(x=100 * promised, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
        side = ("right", "left")[place]
        where = {"yref": "paper", "yanchor": "bottom", "xanchor": side}
        figure.add_annotation(label(look, look.muted, f"{100 * promised:.0f} %", 100 * promised, 1.0, **where))
    least = 100 * min(line.low for field in PROMISED for line in judged(scores, field))
    figure.update_xaxes(title_text="In the range [% of jobs]", range=[min(60.0, least - 2), 102], nticks=6)
    figure.update_yaxes(
        range=[len(rows) - 0.5, -0.5],
        tickvals=list(range(len(rows))),
        title_text="",
        ticks="",
        ticktext=[_wrapped(f"{line.name} ({line.jobs})") for line in rows],
        showgrid=False,
        tickfont_color=look.text,
    )
    return figure


def _draw_bands(figure: go.Figure, lines: Sequence[Held], at: Sequence[float], look: Look) -> None:
    """How far each row may lie from its promise, shaded."""
    for y, line in zip(at, lines, strict=True):
        figure.add_shape(
            type="rect",
            x0=100 * (line.promised - line.band),
            x1=100 * (line.promised + line.band),
            y0=y - OFFSET,
            y1=y + OFFSET,
            fillcolor=tint(look.muted, 0.16),
            line_width=0,
            layer="below",
        )


def _reached(lines: Sequence[Held], at: Sequence[float], colour: str, symbol: str) -> dict[str, Any]:
    """Marks of one range, a row each, with the limits of chance."""
    return {
        "x": [100 * line.share for line in lines],
        "y": at,
        "mode": "markers",
        "name": f"{100 * lines[0].promised:.0f} %",
        "customdata": _limits(lines),
        "marker": {"color": colour, "size": 10, "symbol": symbol, "line": {"color": colour}},
        "error_x": {
            "array": [100 * (line.high - line.share) for line in lines],
            "thickness": 1.5,
            "arrayminus": [100 * (line.share - line.low) for line in lines],
            "color": colour,
            "width": 3,
        },
        "hovertemplate": "%{x:.0f} % (%{customdata})<extra></extra>",
    }


def _limits(lines: Sequence[Held]) -> list[str]:
    return [f"{100 * line.low:.0f} to {100 * line.high:.0f} %, {line.jobs} jobs" for line in lines]


def _wrapped(words: str) -> str:
    return "<br>".join(textwrap.wrap(words, 16))


def coverage_alt(scores: TargetScores) -> str:
    """Coverage overall with its limits, and in the worst group, in words."""
    (whole, *groups), (nine, *_) = judged(scores, "share_80"), judged(scores, "share_90")
    worst = min(groups, key=lambda line: line.share, default=None)
    tail = f" Lowest among groups: {worst.name}, {wording.share(worst.share)}." if worst else ""
    return (
        f"{wording.TARGETS[scores.target]}: {wording.share(whole.share)} of {whole.jobs} outcomes fell in the range "
        f"meant for 80 % (limits of chance {wording.share(whole.low)} to {wording.share(whole.high)}), "
        f"{wording.share(nine.share)} in the range meant for 90 %.{tail}"
    )


def error_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """Pinball loss of the forecast beside its simple peers; shorter is better."""
    losses = {"this forecast": scores.pinball, **{PEER_NAMES.get(n, n): loss for n, loss in scores.peers.items()}}
    colour = colour_of(scores, look)
    figure = new_figure(look, height=110 + 34 * len(losses), margin_right=60)
    figure.add_bar(
        x=list(losses.values()),
        y=list(losses),
        orientation="h",
        hoverinfo="skip",
        marker={"color": [colour, *[tint(colour, 0.35)] * len(scores.peers)]},
    )
    for name, loss in losses.items():
        figure.add_annotation(label(look, look.text, _loss(loss, scores.unit), loss, name, xanchor="left", xshift=4))
    figure.update_xaxes(title_text=f"Pinball loss [{scores.unit}]", rangemode="tozero", nticks=5)
    figure.update_yaxes(autorange="reversed", title_text="", ticks="", showgrid=False, tickfont_color=look.text)
    return figure


def error_alt(scores: TargetScores) -> str:
    """Error of the forecast and of each peer, in words."""
    peers = ", ".join(f"{PEER_NAMES.get(n, n)} {_loss(loss, scores.unit)}" for n, loss in scores.peers.items())
    return f"Pinball loss of this forecast {_loss(scores.pinball, scores.unit)}; of the simple peers: {peers}."


def pit_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """Where outcomes fell within their forecasts, in ten equal parts, with the limits within which bars are even."""
    total, parts = max(sum(scores.pit), 1), len(scores.pit)
    even, colour = evenness(scores.pit), colour_of(scores, look)
    middles = [100 * (i + 0.5) / parts for i in range(parts)]
    figure = new_figure(look, height=HEIGHT - 60)
    figure.add_hrect(
        y0=100 * even.low / total,
        y1=100 * even.high / total,
        fillcolor=tint(look.muted, 0.16),
        line_width=0,
        layer="below",
    )
    figure.add_bar(
        x=middles,
        y=[100 * n / total for n in scores.pit],
        width=92 / parts,
        marker={"color": tint(colour, 0.6)},
        hovertemplate="%{y:.1f} % of jobs<extra></extra>",
    )
    figure.add_hline(y=100 / parts, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    figure.add_annotation(
        label(
            look,
            look.muted,
            "honest ranges stay in the band",
            100,
            100 * even.high / total,
            xanchor="right",
            yanchor="bottom",
        )
    )
    figure.update_xaxes(title_text="Place of the outcome in its forecast [%]", range=[0, 100], nticks=6)
    top = 100 * max(even.high, *scores.pit) / total
    figure.update_yaxes(title_text="Jobs [%]", range=[0, 1.18 * top], nticks=5)
    return figure


def pit_alt(scores: TargetScores) -> str:
    """How even the ten parts are, in words."""
    total, even = max(sum(scores.pit), 1), evenness(scores.pit)
    shares = [count / total for count in scores.pit]
    return (
        f"Outcomes by tenth of their forecast, {total} jobs: between {wording.share(min(shares))} and "
        f"{wording.share(max(shares))} in each tenth, where {wording.share(1 / len(shares))} would be even and "
        f"{wording.share(even.low / total)} to {wording.share(even.high / total)} is what chance gives; "
        f"{wording.count(even.outside, 'tenth')} outside."
    )


def score_rows(scores: Mapping[Target, TargetScores]) -> list[dict[str, object]]:
    """One row a target: jobs, coverage, error, best peer, gain, bias."""
    return [
        {
            "Forecast": f"{wording.TARGETS[name]} [{s.unit}]",
            "Jobs tested": s.jobs,
            "In the 80 % range [%]": round(100 * s.coverage.share_80, 1),
            "In the 90 % range [%]": round(100 * s.coverage.share_90, 1),
            "Pinball loss": round(s.pinball, 4),
            "Best peer": PEER_NAMES.get(s.best_peer, s.best_peer),
            "Its loss": round(s.peers[s.best_peer], 4),
            "Better by [%]": round(100 * s.better_share, 1),
            "Outcome less middle, latest jobs": round(s.median_bias, 3),
        }
        for name, s in scores.items()
    ]


def _loss(loss: float, unit: str) -> str:
    return f"{loss:.3f} kg" if unit == "kg" else f"{loss:.1f} {unit}"
