"""Figures of the page "How good are the forecasts": coverage, error beside the peers, and where outcomes fell."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from dashboard import wording
from dashboard.theme import HEIGHT, LIGHT, LIMIT, Look, label, new_figure, tint

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.quote.backtest import TargetScores
    from models.quote.result import Target

PROMISED = {"share_80": 80, "share_90": 90}
PEER_NAMES = {
    "per_emitter": "kilograms an emitter", "group_median": "usual job of the size", "linear": "straight-line model",
}  # fmt: skip


def colour_of(scores: TargetScores, look: Look) -> str:
    """The hue of a target: debris for kilograms, ink for time."""
    return look.debris if scores.unit == "kg" else look.ink


def coverage_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """How often the outcome fell in the 8-in-10 and the 9-in-10 range: overall and by group of jobs."""
    groups = {"all jobs": scores.coverage, **scores.groups}
    names = [f"{name} ({cover.jobs})" for name, cover in groups.items()]
    figure = new_figure(look, height=110 + 34 * len(names))
    colour = colour_of(scores, look)
    for place, (field, promised) in enumerate(PROMISED.items()):
        reached = [100 * getattr(cover, field) for cover in groups.values()]
        symbol = ("circle", "diamond-open")[place]
        figure.add_scatter(x=reached, y=names, mode="markers", name=f"{promised} %",
                           marker={"color": colour, "size": 11, "symbol": symbol, "line": {"color": colour}},
                           hovertemplate="%{y}: %{x:.0f} %<extra></extra>")  # fmt: skip
        figure.add_vline(x=promised, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
        figure.add_annotation(label(look, look.muted, f"{promised} %", promised, 1.0, yref="paper", yanchor="bottom",
                                    xanchor=("right", "left")[place]))  # fmt: skip
    figure.update_xaxes(title_text="In the range [% of jobs]", range=[50, 102], nticks=6)
    figure.update_yaxes(autorange="reversed", title_text="", ticks="", tickfont_color=look.text)
    return figure


def coverage_alt(scores: TargetScores) -> str:
    """Coverage overall and in the worst group, in words."""
    cover = scores.coverage
    worst = min(scores.groups, key=lambda name: scores.groups[name].share_80, default="")
    tail = f" Lowest among groups: {worst}, {wording.share(scores.groups[worst].share_80)}." if worst else ""
    return (
        f"{wording.TARGETS[scores.target]}: {wording.share(cover.share_80)} of {cover.jobs} outcomes fell in the range "
        f"meant for 80 %, {wording.share(cover.share_90)} in the range meant for 90 %.{tail}"
    )


def error_figure(scores: TargetScores, look: Look = LIGHT) -> go.Figure:
    """Pinball loss of the forecast beside its simple peers; shorter is better."""
    losses = {"this forecast": scores.pinball, **{PEER_NAMES.get(n, n): loss for n, loss in scores.peers.items()}}
    colour = colour_of(scores, look)
    figure = new_figure(look, height=110 + 34 * len(losses), margin_right=60)
    figure.add_bar(x=list(losses.values()), y=list(losses), orientation="h", hoverinfo="skip",
                   marker={"color": [colour, *[tint(colour, 0.35)] * len(scores.peers)]})  # fmt: skip
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
    """Where outcomes fell within their forecasts, in ten equal parts; even bars mean honest ranges."""
    total, parts = sum(scores.pit), len(scores.pit)
    colour = colour_of(scores, look)
    middles = [100 * (i + 0.5) / parts for i in range(parts)]
    figure = new_figure(look, height=HEIGHT - 80)
    figure.add_bar(x=middles, y=[100 * n / max(total, 1) for n in scores.pit], width=92 / parts,
                   marker={"color": tint(colour, 0.6)}, hovertemplate="%{y:.1f} % of jobs<extra></extra>")  # fmt: skip
    figure.add_hline(y=100 / parts, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    figure.add_annotation(label(look, look.muted, "if honest", 100, 100 / parts, xanchor="right", yanchor="bottom"))
    figure.update_xaxes(title_text="Place of the outcome in its forecast [%]", range=[0, 100], nticks=6)
    figure.update_yaxes(title_text="Jobs [%]", rangemode="tozero", nticks=5)
    return figure


def pit_alt(scores: TargetScores) -> str:
    """How even the ten parts are, in words."""
    total = max(sum(scores.pit), 1)
    shares = [count / total for count in scores.pit]
    return (
        f"Outcomes by tenth of their forecast, {total} jobs: between {wording.share(min(shares))} and "
        f"{wording.share(max(shares))} in each tenth, where {wording.share(1 / len(shares))} would be even."
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
