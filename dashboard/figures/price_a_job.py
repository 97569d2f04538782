"""Figures of the page "Price a job": what a job will give and take, why, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dashboard.figures.axes import hours_axis, without_scale
from dashboard.theme import EXPECTED, HEIGHT, LIGHT, LIMIT, Look, label, new_figure, tint
from dashboard.words import wording

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.quote.base.quote_result import Forecast, Price, SimilarJob, Why

GRID_POINTS = 240
SHORT = 270
BELOW = -0.09
"""Past jobs stand so far below the outline, whose peak is 1."""
Floats = NDArray[np.float64]


def density(percentiles: Sequence[float]) -> tuple[Floats, Floats]:
    """A smooth outline of a forecast given by p01…p99; value and height, both shape (n,).

    A kernel density of the 99 percentiles on the log scale, so that nothing falls below zero;
    the width is Silverman's rule (B. W. Silverman, "Density Estimation", 1986, eq. 3.31). The
    height is scaled to 1 at the mode.
    """
    values = np.maximum(np.asarray(percentiles, dtype=float), 1e-6)
    logs = np.log(values)
    spread = min(float(logs.std()), float(np.subtract(*np.percentile(logs, [75, 25]))) / 1.34)
    width = 0.9 * max(spread, 1e-3) * len(logs) ** -0.2
    grid = np.linspace(0.0, float(values[-1]) * 1.05, GRID_POINTS)[1:]
    distance = (np.log(grid)[:, None] - logs[None, :]) / width
    height = np.exp(-0.5 * distance**2).sum(axis=1) / grid
    return grid, height / height.max()


def forecast_figure(forecast: Forecast, nearest: Sequence[SimilarJob], look: Look = LIGHT) -> go.Figure:
    """The whole distribution of one target, the middle 8 in 10 darker, and what the nearest jobs gave.

    `forecast.target` is `magnetite_kg` or `site_minutes`; the nearest jobs stand below as marks.
    """
    in_kg, q = forecast.unit == "kg", forecast.quantiles
    colour, say = (look.debris, wording.kilograms) if in_kg else (look.ink, wording.duration)
    x, y = density(forecast.percentiles)
    figure = new_figure(look, height=SHORT)
    _draw_outline(figure, x, y, (x >= q.p10) & (x <= q.p90), colour)
    top = float(np.interp(q.p50, x, y))
    figure.add_scatter(x=[q.p50, q.p50], y=[0, top], mode="lines", line={"color": colour, "width": 3}, hoverinfo="skip")
    past = [v for job in nearest if (v := getattr(job, forecast.target)) is not None and v <= x[-1]]
    figure.add_scatter(
        x=past,
        y=[BELOW] * len(past),
        mode="markers",
        name="nearest past jobs",
        marker={"color": colour, "size": 9, "symbol": "line-ns-open", "line": {"width": 2}},
        hovertemplate="a past job: %{x:.2f}<extra></extra>",
    )
    figure.add_annotation(label(look, colour, f"<b>{say(q.p50)}</b>", q.p50, 1.08, xanchor="left", xshift=4))
    if past:  # named on the side where they leave more room
        is_left = min(past) > x[-1] - max(past)
        at, side, shift = (0.0, "left", 4) if is_left else (x[-1], "right", 0)
        figure.add_annotation(label(look, look.muted, "nearest past jobs", at, BELOW, xanchor=side, xshift=shift))
    title = wording.TARGETS[forecast.target]
    figure.update_xaxes(
        {"title": {"text": f"{title} [kg]"}, "range": [0, x[-1]]} if in_kg else hours_axis(float(x[-1]), title)
    )
    figure.update_yaxes(**without_scale("How likely"), range=[-0.2, 1.2])
    return figure


def _draw_outline(figure: go.Figure, x: Floats, y: Floats, middle: NDArray[np.bool_], colour: str) -> None:
    """The outline filled, its `middle` darker."""
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": colour, "width": 1.5, "dash": EXPECTED},
        fill="tozeroy",
        fillcolor=tint(colour, 0.13),
        hoverinfo="skip",
    )
    figure.add_scatter(
        x=x[middle], y=y[middle], mode="none", fill="tozeroy", fillcolor=tint(colour, 0.32), hoverinfo="skip"
    )


def forecast_alt(forecast: Forecast, nearest: Sequence[SimilarJob]) -> str:
    """What the distribution shows, in words."""
    q, in_kg = forecast.quantiles, forecast.unit == "kg"
    say, name = (wording.kilograms if in_kg else wording.duration), wording.TARGETS[forecast.target]
    return (
        f"{name} expected: half of such jobs stay under {say(q.p50)}, 8 in 10 lie between {say(q.p10)} and "
        f"{say(q.p90)}, 1 in 20 exceeds {say(q.p95)}. {wording.count(len(nearest), 'near past job')} marked below."
    )


def loss_figure(price: Price, look: Look = LIGHT) -> go.Figure:
    """Chance of losing money against the price asked, with the price that the owner's own limit gives."""
    x = [point.price for point in price.curve]
    y = [100 * point.chance_of_loss for point in price.curve]
    limit = 100 * price.accepted_chance_of_loss
    figure = new_figure(look, height=HEIGHT)
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": look.ink, "width": 2.5},
        hovertemplate="%{x:,.0f}: %{y:.0f} % lose money<extra></extra>",
    )
    figure.add_hline(y=limit, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    figure.add_scatter(
        x=[price.price],
        y=[float(np.interp(price.price, x, y))],
        mode="markers",
        marker={"color": look.accent, "size": 13, "symbol": "circle"},
        hoverinfo="skip",
    )
    asked = wording.money(price.price, price.currency)
    figure.add_annotation(
        label(
            look,
            look.accent,
            f"<b>ask {asked}</b>",
            price.price,
            float(np.interp(price.price, x, y)),
            yshift=20,
            xanchor="left",
            xshift=4,
        )
    )
    figure.add_annotation(
        label(look, look.muted, f"you accept {limit:.0f} %", x[0], limit, xanchor="left", yanchor="bottom")
    )
    figure.update_xaxes(title_text=f"Price before tax [{price.currency}]", tickformat=",.0f", nticks=6)
    figure.update_layout(separators=wording.separators(price.currency))
    figure.update_yaxes(title_text="Jobs that lose money [%]", range=[0, 105])
    return figure


def loss_alt(price: Price) -> str:
    """What the price curve shows, in words."""
    low, high = price.curve[0], price.curve[-1]
    return (
        f"The chance of losing money falls from {wording.share(low.chance_of_loss)} at "
        f"{wording.money(low.price, price.currency)} to {wording.share(high.chance_of_loss)} at "
        f"{wording.money(high.price, price.currency)}; at {wording.money(price.price, price.currency)} it is at most "
        f"the accepted {wording.share(price.accepted_chance_of_loss)}."
    )


def reasons_figure(why: Why, look: Look = LIGHT) -> go.Figure:
    """From the usual job to this one, step by step; the steps add up to the forecast."""
    in_kg = why.unit == "kg"
    scale = 1.0 if in_kg else 1 / wording.MINUTES_PER_HOUR
    colour = look.debris if in_kg else look.ink
    amounts = np.array([reason.amount for reason in why.reasons]) * scale
    starts = why.usual * scale + np.concatenate([[0.0], np.cumsum(amounts)[:-1]])
    names = ["A usual job", *(reason.group.capitalize() for reason in why.reasons), "This job"]
    base = [0.0, *starts, 0.0]
    length = [why.usual * scale, *amounts, why.median * scale]
    say, signed = (
        (wording.kilograms, wording.signed_kilograms) if in_kg else (wording.duration, wording.signed_duration)
    )
    texts = [say(why.usual), *(signed(reason.amount) for reason in why.reasons), say(why.median)]
    shades = [tint(colour, 0.35), *([colour] * len(amounts)), tint(colour, 0.35)]
    figure = new_figure(look, height=90 + 30 * len(names), margin_right=70)
    figure.add_bar(y=names, x=length, base=base, orientation="h", marker={"color": shades}, hoverinfo="skip")
    for name, start, size, text in zip(names, base, length, texts, strict=True):
        end = max(start, start + size)
        figure.add_annotation(label(look, look.text, text, end, name, xanchor="left", xshift=4))
    figure.update_xaxes(
        title_text=f"{wording.TARGETS[why.target]} [{'kg' if in_kg else 'h'}]", rangemode="tozero", nticks=5
    )
    figure.update_yaxes(autorange="reversed", showgrid=False, ticks="", title_text="", tickfont_color=look.text)
    return figure


def reasons_alt(why: Why) -> str:
    """What moved the forecast, the largest step first, in words."""
    in_kg = why.unit == "kg"
    say, signed = (
        (wording.kilograms, wording.signed_kilograms) if in_kg else (wording.duration, wording.signed_duration)
    )
    ranked = sorted(why.reasons, key=lambda reason: -abs(reason.amount))
    steps = ", ".join(f"{reason.group} {signed(reason.amount)}" for reason in ranked)
    return f"A usual job stands at {say(why.usual)}, this one at {say(why.median)}. What moves it: {steps}."
