"""Figures of the page "Practice audit": effects with intervals, curves of callbacks, balance, dose, the funnel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dashboard import wording
from dashboard.theme import EXPECTED, LIGHT, LIMIT, Look, label, new_figure, tint

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.practice.result import Balance, PracticeEffect
    from models.practice.result_curves import CumulativeIncidence, DoseResponse, PracticeCurves
    from models.practice.result_engineers import Funnel

SYMBOLS = {"cuts callbacks": "diamond", "raises callbacks": "x", "cannot be told yet": "circle-open"}


def avoided(effect: PracticeEffect) -> tuple[float, float, float]:
    """Callbacks avoided per 100 jobs: estimate and the ends of its interval. The effect must not be refused."""
    assert effect.difference is not None
    assert effect.low is not None
    assert effect.high is not None
    return -100 * effect.difference, -100 * effect.high, -100 * effect.low


def forest_figure(effects: Sequence[PracticeEffect], look: Look = LIGHT) -> go.Figure:
    """One line a practice: adjusted effect and 95 % interval, the raw difference faint beside it."""
    figure = new_figure(look, height=130 + 34 * len(effects))
    for effect in effects:
        name = effect.label
        middle, low, high = avoided(effect)
        colour = look.accent if effect.verdict == "cuts callbacks" else look.debris if effect.verdict == (
            "raises callbacks") else look.ink  # fmt: skip
        figure.add_scatter(x=[low, high], y=[name, name], mode="lines", line={"color": colour, "width": 3},
                           hoverinfo="skip")  # fmt: skip
        figure.add_scatter(x=[middle], y=[name], mode="markers", hovertemplate="%{y}: %{x:.1f}<extra></extra>",
                           marker={"color": colour, "size": 11, "symbol": SYMBOLS[effect.verdict],
                                   "line": {"color": colour, "width": 2}})  # fmt: skip
        if effect.raw is not None:
            figure.add_scatter(x=[-100 * effect.raw.difference], y=[name], mode="markers",
                               marker={"color": look.muted, "size": 8, "symbol": "line-ns-open"},
                               hovertemplate="before adjusting: %{x:.1f}<extra></extra>")  # fmt: skip
    figure.add_vline(x=0, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    ends = [end for effect in effects for end in avoided(effect)] + [0.0]
    room = 0.05 * (max(ends) - min(ends)) + 0.1
    figure.update_layout(showlegend=False)
    figure.update_xaxes(title_text="Avoided [per 100 jobs]", nticks=5, tickangle=0,
                        range=[min(ends) - room, max(ends) + room])  # fmt: skip
    figure.update_yaxes(autorange="reversed", title_text="", ticks="", tickfont_color=look.text)
    return figure


def forest_alt(effects: Sequence[PracticeEffect]) -> str:
    """Each effect in words."""
    told = []
    for effect in effects:
        middle, low, high = avoided(effect)
        told.append(f"{effect.label}: {middle:.1f} ({low:.1f} to {high:.1f}), {effect.verdict}")
    return f"Callbacks avoided per 100 jobs, {wording.count(len(effects), 'practice')}. {'; '.join(told)}."


def incidence_figure(curves: PracticeCurves, look: Look = LIGHT) -> go.Figure:
    """Share of jobs called back for debris by day, with and without the practice; adjusted where it could be."""
    figure = new_figure(look)
    is_adjusted = curves.adjusted_with is not None and curves.adjusted_without is not None
    pair = (curves.adjusted_with, curves.adjusted_without) if is_adjusted else (
        curves.debris_with, curves.debris_without)  # fmt: skip
    for curve, colour, dash, name in zip(pair, (look.accent, look.ink), ("solid", EXPECTED), ("with", "without"),
                                         strict=True):  # fmt: skip
        assert curve is not None
        _steps(figure, curve, colour, dash)
        figure.add_annotation(
            label(look, colour, name, float(curve.days[-1]), 100 * float(curve.estimate[-1]), xanchor="left")
        )
    figure.update_layout(showlegend=False)
    figure.update_xaxes(title_text="Time since the visit [days]", nticks=7)
    figure.update_yaxes(title_text="Called back for debris [% of jobs]", rangemode="tozero")
    return figure


def _steps(figure: go.Figure, curve: CumulativeIncidence, colour: str, dash: str) -> None:
    for values, shape in ((curve.low, None), (curve.high, "tonexty")):
        figure.add_scatter(x=curve.days, y=100 * values, mode="lines", line={"width": 0, "shape": "hv"}, fill=shape,
                           fillcolor=tint(colour, 0.14), hoverinfo="skip")  # fmt: skip
    figure.add_scatter(x=curve.days, y=100 * curve.estimate, mode="lines",
                       line={"color": colour, "width": 2.5, "shape": "hv", "dash": dash},
                       hovertemplate="day %{x:.0f}: %{y:.1f} %<extra></extra>")  # fmt: skip


def incidence_alt(curves: PracticeCurves) -> str:
    """Where both curves end, in words."""
    with_, without = curves.adjusted_with or curves.debris_with, curves.adjusted_without or curves.debris_without
    return (
        f"Jobs called back for debris by day: {wording.share(float(with_.estimate[-1]))} with the practice and "
        f"{wording.share(float(without.estimate[-1]))} without it at day {with_.days[-1]:.0f}."
    )


def balance_figure(balance: Sequence[Balance], look: Look = LIGHT) -> go.Figure:
    """How far the groups differ in what was known before, before and after weighting; 0.1 is taken as alike."""
    shown = sorted(balance, key=lambda each: abs(each.before))[-14:]
    names = [each.label for each in shown]
    figure = new_figure(look, height=120 + 24 * len(shown))
    figure.add_scatter(x=[abs(each.before) for each in shown], y=names, mode="markers", name="before",
                       marker={"color": look.muted, "symbol": "circle-open", "size": 9})  # fmt: skip
    figure.add_scatter(x=[abs(each.after) for each in shown], y=names, mode="markers", name="after",
                       marker={"color": look.flow, "symbol": "circle", "size": 9})  # fmt: skip
    figure.add_vline(x=0.1, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    figure.update_layout(showlegend=True, legend={"orientation": "h", "y": 1.12})
    figure.update_xaxes(title_text="Groups differ by [SD]", rangemode="tozero", nticks=5)
    figure.update_yaxes(title_text="", ticks="", tickfont_color=look.text)
    return figure


def balance_alt(balance: Sequence[Balance]) -> str:
    """The largest differences before and after, in words."""
    before, after = (max(abs(getattr(each, when)) for each in balance) for when in ("before", "after"))
    return f"Largest difference of the groups: {before:.2f} standard deviations before weighting, {after:.2f} after."


def dose_figure(dose: DoseResponse, look: Look = LIGHT) -> go.Figure:
    """Risk of a debris callback by dose, all jobs given the same, with its band."""
    figure = new_figure(look)
    for values, shape in ((dose.low, None), (dose.high, "tonexty")):
        figure.add_scatter(x=dose.doses, y=100 * values, mode="lines", line={"width": 0}, fill=shape,
                           fillcolor=tint(look.debris, 0.18), hoverinfo="skip")  # fmt: skip
    figure.add_scatter(x=dose.doses, y=100 * dose.risk, mode="lines+markers", line={"color": look.debris, "width": 2.5},
                       hovertemplate="%{x:g}: %{y:.1f} %<extra></extra>")  # fmt: skip
    figure.update_layout(showlegend=False)
    figure.update_xaxes(title_text=f"{dose.label} [{dose.unit}]", nticks=8)
    figure.update_yaxes(title_text="Called back for debris [% of jobs]", rangemode="tozero")
    return figure


def dose_alt(dose: DoseResponse) -> str:
    """The risk at each dose, in words."""
    told = (f"{d:g} {dose.unit}: {100 * r:.1f} %" for d, r in zip(dose.doses, dose.risk, strict=True))
    return f"{dose.label} against the adjusted risk of a debris callback: {', '.join(told)}."


def funnel_figure(funnel: Funnel, look: Look = LIGHT) -> go.Figure:
    """Callbacks seen over expected for each engineer with enough jobs, and the limits that chance would keep."""
    figure = new_figure(look)
    for low, high, dash in ((funnel.wide_low_95, funnel.wide_high_95, EXPECTED),
                            (funnel.wide_low_998, funnel.wide_high_998, LIMIT)):  # fmt: skip
        for values in (low, high):
            figure.add_scatter(x=funnel.grid, y=values, mode="lines", hoverinfo="skip",
                               line={"color": look.muted, "dash": dash, "width": 1.5})  # fmt: skip
    shown = [each for each in funnel.engineers if each.ratio is not None]
    figure.add_scatter(
        x=[each.expected for each in shown], y=[each.ratio for each in shown], mode="markers+text",
        text=[each.engineer_id for each in shown], textposition="top center", textfont={"color": look.text},
        marker={"color": look.ink, "size": 10}, hovertemplate="%{text}: %{y:.2f}<extra></extra>",
    )  # fmt: skip
    figure.add_hline(y=1, line={"color": look.ink, "width": 1})
    figure.update_layout(showlegend=False)
    figure.update_xaxes(title_text="Callbacks expected from the mix of jobs [count]", rangemode="tozero", nticks=6)
    figure.update_yaxes(title_text="Seen over expected [ratio]", rangemode="tozero")
    return figure


def funnel_alt(funnel: Funnel) -> str:
    """Each engineer's place, in words."""
    told = (f"{e.engineer_id}: {e.observed} seen, {e.expected:.1f} expected, {e.place}" for e in funnel.engineers
            if e.ratio is not None)  # fmt: skip
    return f"Debris callbacks seen over expected by engineer. {'; '.join(told)}."
