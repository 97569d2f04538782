"""Figures of one practice: callbacks by day with the jobs still watched, balance of the groups, risk by dose."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dashboard.theme import EXPECTED, LIGHT, LIMIT, Look, label, new_figure, tint
from dashboard.words import wording

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.practice.results.audit_result import Balance
    from models.practice.results.curve_results import CumulativeIncidence, DoseResponse, PracticeCurves, SurvivalCurve

MOST_SHOWN = 14
"""Rows of a balance figure that a screen can hold; the table holds all."""


def pair(curves: PracticeCurves) -> tuple[CumulativeIncidence, CumulativeIncidence]:
    """First debris callbacks with and without: of jobs weighted to be alike where that could be done, else as seen."""
    if curves.adjusted_with is not None and curves.adjusted_without is not None:
        return curves.adjusted_with, curves.adjusted_without
    return curves.debris_with, curves.debris_without


def incidence_figure(curves: PracticeCurves, look: Look = LIGHT) -> go.Figure:
    """Share of jobs called back for debris by day, with and without; jobs still watched stand below."""
    figure = _two(pair(curves), curves, look, gap=_GAP)
    figure.update_yaxes(title_text="Called back for debris [% of jobs]", rangemode="tozero")
    return figure


def survival_figure(curves: PracticeCurves, look: Look = LIGHT) -> go.Figure:
    """Share of jobs without a debris callback by day, as seen in the records (Kaplan-Meier)."""
    figure = _two((curves.free_with, curves.free_without), curves, look, gap=_GAP)
    figure.update_yaxes(title_text="Free of debris callbacks [% of jobs]")
    return figure


_GAP = 0.06
"""Least distance of two labels at the ends of lines, as a share of the height."""


def _two(
    both: Sequence[CumulativeIncidence | SurvivalCurve], curves: PracticeCurves, look: Look, gap: float
) -> go.Figure:
    figure = new_figure(look, height=400, margin_right=64)
    days = curves.table_days
    named = list(zip(both, (look.accent, look.ink), ("solid", EXPECTED), ("with", "without"), strict=True))
    for curve, colour, dash, _ in named:
        _steps(figure, curve, colour, dash)
    ends = [100 * float(curve.estimate[-1]) for curve in both]
    room = gap * 100 * max(float(c.high.max()) - float(c.low.min()) for c in both)
    middle = sum(ends) / 2
    apart = max(abs(ends[0] - ends[1]), room) / 2
    for (_, colour, _, name), is_upper in zip(named, (ends[0] >= ends[1], ends[0] < ends[1]), strict=True):
        at = middle + apart if is_upper else middle - apart
        figure.add_annotation(label(look, colour, name, 1.0, at, xref="paper", xanchor="left", xshift=3))
    _at_risk(figure, curves, look)
    figure.update_layout(showlegend=False, margin_b=96)
    figure.update_xaxes(
        title_text="Days since the visit",
        tickvals=[int(day) for day in days],
        range=[0, float(days[-1])],
        title_standoff=4,
    )
    return figure


def _steps(figure: go.Figure, curve: CumulativeIncidence | SurvivalCurve, colour: str, dash: str) -> None:
    for values, shape in ((curve.low, None), (curve.high, "tonexty")):
        figure.add_scatter(
            x=curve.days,
            y=100 * values,
            mode="lines",
            line={"width": 0, "shape": "hv"},
            fill=shape,
            fillcolor=tint(colour, 0.14),
            hoverinfo="skip",
        )
    figure.add_scatter(
        x=curve.days,
        y=100 * curve.estimate,
        mode="lines",
        line={"color": colour, "width": 2.5, "shape": "hv", "dash": dash},
        hovertemplate="day %{x:.0f}: %{y:.1f} %<extra></extra>",
    )


def _at_risk(figure: go.Figure, curves: PracticeCurves, look: Look) -> None:
    """Jobs still watched, below the axis, each group in its colour; its name stands at the right."""
    for counts, colour, name, down in (
        (curves.at_risk_with, look.accent, "with", -66),
        (curves.at_risk_without, look.ink, "without", -84),
    ):
        common = {"yref": "paper", "y": 0, "yshift": down, "showarrow": False, "font": {"color": colour, "size": 12}}
        for day, number in zip(curves.table_days, counts, strict=True):
            figure.add_annotation(x=float(day), text=f"{number:,}", **common)
        figure.add_annotation(x=1, xref="paper", xanchor="left", xshift=18, text=name, **common)


def incidence_alt(curves: PracticeCurves) -> str:
    """Where both curves end, in words, and how many jobs were watched that long."""
    with_, without = pair(curves)
    return (
        f"Jobs called back for debris by day: {wording.share(float(with_.estimate[-1]))} with the practice and "
        f"{wording.share(float(without.estimate[-1]))} without it at day {with_.days[-1]:.0f}; "
        f"{curves.at_risk_with[-1]:,} and {curves.at_risk_without[-1]:,} jobs were watched that long."
    )


def survival_alt(curves: PracticeCurves) -> str:
    """Where both curves end, in words."""
    ends = [wording.share(float(curve.estimate[-1])) for curve in (curves.free_with, curves.free_without)]
    return f"Jobs free of debris callbacks in the bare records: {ends[0]} with the practice and {ends[1]} without it."


def balance_figure(balance: Sequence[Balance], look: Look = LIGHT) -> go.Figure:
    """How far the groups differ in what was known before, before and after weighting; under 0.1 is taken as alike."""
    shown = sorted(balance, key=lambda each: abs(each.before))[-MOST_SHOWN:]
    names = [each.label for each in shown]
    figure = new_figure(look, height=110 + 22 * len(shown))
    for each in shown:
        figure.add_scatter(
            x=[abs(each.before), abs(each.after)],
            y=[each.label] * 2,
            mode="lines",
            hoverinfo="skip",
            line={"color": look.grid, "width": 2},
        )
    for when, colour, symbol in (("before", look.muted, "circle-open"), ("after", look.flow, "circle")):
        values = [abs(float(getattr(each, when))) for each in shown]
        figure.add_scatter(
            x=values,
            y=names,
            mode="markers",
            name=when,
            hovertemplate="%{y}: %{x:.2f}<extra></extra>",
            marker={"color": colour, "symbol": symbol, "size": 9},
        )
        figure.add_annotation(label(look, colour, when, values[-1], names[-1], yshift=16))
    figure.add_vline(x=0.1, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
    figure.update_xaxes(title_text="Groups differ by [SD]", rangemode="tozero", nticks=4)
    figure.update_yaxes(title_text="", ticks="", tickfont_color=look.text, tickfont_size=12)
    return figure


def balance_alt(balance: Sequence[Balance]) -> str:
    """The largest differences before and after, in words."""
    before, after = (max(abs(getattr(each, when)) for each in balance) for when in ("before", "after"))
    return f"Largest difference of the groups: {before:.2f} standard deviations before weighting, {after:.2f} after."


def dose_figure(dose: DoseResponse, look: Look = LIGHT) -> go.Figure:
    """Risk of a debris callback by dose, all jobs given the same, with intervals and the jobs behind each."""
    figure = new_figure(look)
    ends = {
        "type": "data",
        "symmetric": False,
        "array": 100 * (dose.high - dose.risk),
        "arrayminus": 100 * (dose.risk - dose.low),
        "color": look.debris,
        "thickness": 2,
        "width": 5,
    }
    figure.add_scatter(
        x=dose.doses,
        y=100 * dose.risk,
        mode="lines+markers",
        error_y=ends,
        line={"color": tint(look.debris, 0.5), "width": 1.5, "dash": EXPECTED},
        marker={"color": look.debris, "size": 10},
        hovertemplate="%{x:.0f}: %{y:.1f} %<extra></extra>",
    )
    for at, high, jobs in zip(dose.doses, dose.high, dose.jobs, strict=True):
        figure.add_annotation(
            label(
                look,
                look.muted,
                f"{jobs:,} jobs" if at == dose.doses[0] else f"{jobs:,}",
                float(at),
                100 * float(high),
                yshift=12,
            )
        )
    figure.update_xaxes(title_text=f"{dose.label} [{dose.unit}]", nticks=8)
    figure.update_yaxes(title_text="Called back for debris [% of jobs]", range=[0, 118 * float(dose.high.max())])
    return figure


def dose_alt(dose: DoseResponse) -> str:
    """The risk at each dose, in words."""
    told = (f"{d:.0f} {dose.unit}: {100 * r:.1f} %" for d, r in zip(dose.doses, dose.risk, strict=True))
    return f"{dose.label} against the adjusted risk of a debris callback: {', '.join(told)}."
