"""Figures of "How good are the forecasts" over time: error beside the peers, and coverage, period by period."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.figures.forecasts import colour_of
from dashboard.theme import EXPECTED, HEIGHT, LIGHT, LIMIT, Look, label, new_figure, tint
from dashboard.words import wording
from dashboard.words.forecast_words import PEER_NAMES, coverage_of, middle
from models.quote.coverage_tests import BAND_GROUP

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.quote.backtest import TargetScores

SHORT_NAMES = {"per_emitter": "kg an emitter", "group_median": "usual job", "linear": "straight line"}
_LEAST_GAP = 0.075
"""Labels at the ends of lines stand at least so far apart, as a share of the height."""


def loss_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """Pinball loss of the forecast and of each peer, a point for each period of tested jobs."""
    folds, colour = scores.folds_scores, colour_of(scores, look)
    days = [middle(fold) for fold in folds]
    lines = {"this forecast": [fold.pinball for fold in folds]}
    lines |= {SHORT_NAMES.get(name, name): [fold.peers[name] for fold in folds] for name in scores.peers}
    figure = new_figure(look, height=HEIGHT - 40, margin_right=104)
    for name, losses in reversed(lines.items()):
        own = name == "this forecast"
        figure.add_scatter(
            x=days,
            y=losses,
            mode="lines+markers",
            name=name,
            line={
                "color": colour if own else look.muted,
                "width": 3 if own else 1.5,
                "dash": None if own else EXPECTED,
            },
            marker={"size": 9 if own else 6, "symbol": "circle" if own else "circle-open"},
            hovertemplate=f"{name}: %{{y:.3g}} {scores.unit}<extra></extra>",
        )
    top = 1.08 * max(max(losses) for losses in lines.values())
    ends = spread_out({name: losses[-1] for name, losses in lines.items()}, _LEAST_GAP * top)
    for name, y in ends.items():
        figure.add_annotation(
            label(look, colour if name == "this forecast" else look.muted, name, days[-1], y, xanchor="left", xshift=9)
        )
    figure.update_xaxes(nticks=4, tickformat="%b %Y")
    figure.update_yaxes(title_text=f"Pinball loss [{scores.unit}]", range=[0, top], nticks=5)
    return figure


def spread_out(heights: dict[str, float], gap: float) -> dict[str, float]:
    """The same heights moved upwards as far as needed for each to stand `gap` above the one below.

    >>> spread_out({"a": 1.0, "b": 1.1, "c": 3.0}, 0.5)
    {'a': 1.0, 'b': 1.5, 'c': 3.0}
    """
    placed: dict[str, float] = {}
    below = float("-inf")
    for name in sorted(heights, key=lambda each: heights[each]):
        below = max(heights[name], below + gap)
        placed[name] = below
    return placed


def loss_alt(scores: TargetScores) -> str:
    """In how many periods the forecast beats the best peer, and how its error moved, in words."""
    folds = scores.folds_scores
    better = sum(fold.pinball < min(fold.peers.values()) for fold in folds)
    told = "; ".join(f"{middle(f):%B %Y} {f.pinball:.3g} {scores.unit} over {f.jobs} jobs" for f in folds)
    return (
        f"Pinball loss by period: {told}. Lower than that of the best simple rule "
        f"({PEER_NAMES.get(scores.best_peer, scores.best_peer)} over all) in {better} of "
        f"{wording.count(len(folds), 'period')}."
    )


def coverage_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """Share of outcomes in the 8-in-10 range, period by period, with exact limits and the band allowed."""
    folds, colour = scores.folds_scores, colour_of(scores, look)
    lines = [coverage_of(fold) for fold in folds]
    figure = new_figure(look, height=HEIGHT - 40)
    figure.add_hrect(
        y0=100 * (lines[0].promised - BAND_GROUP),
        y1=100 * (lines[0].promised + BAND_GROUP),
        fillcolor=tint(look.muted, 0.16),
        line_width=0,
        layer="below",
    )
    figure.add_hline(y=100 * lines[0].promised, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    figure.add_scatter(
        x=[middle(fold) for fold in folds],
        y=[100 * line.share for line in lines],
        mode="markers",
        marker={
            "color": colour,
            "size": 10,
            "line": {"color": colour, "width": 2},
            "symbol": ["diamond-open" if fold.recalibrated else "circle" for fold in folds],
        },
        error_y={
            "array": [100 * (line.high - line.share) for line in lines],
            "color": colour,
            "arrayminus": [100 * (line.share - line.low) for line in lines],
            "width": 3,
            "thickness": 1.5,
        },
        customdata=[fold.jobs for fold in folds],
        hovertemplate="%{y:.0f} % of %{customdata} jobs<extra></extra>",
    )
    figure.update_xaxes(nticks=4, tickformat="%b %Y")
    figure.update_yaxes(
        title_text="In the 80 % range [% of jobs]", range=[min(50, *(95 * x.low for x in lines)), 102], nticks=6
    )
    return figure


def coverage_alt(scores: TargetScores) -> str:
    """Coverage of each period with its limits, in words."""
    told = "; ".join(
        f"{middle(fold):%B %Y} {wording.share(line.share)} ({wording.share(line.low)} to {wording.share(line.high)})"
        + (", ranges reset after a drift" if fold.recalibrated else "")
        for fold in scores.folds_scores
        for line in [coverage_of(fold)]
    )
    return f"Share of outcomes in the range meant for 80 %, with limits of chance: {told}."
