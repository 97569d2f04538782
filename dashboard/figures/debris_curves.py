"""Debris curves of many jobs, laid over one another: thin lines, bands of half and of 8 in 10, and one job strong.

Either in kilograms or as shares of what each job gave in all. A sample of the jobs is drawn as lines; bands stand
for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dashboard.figures.axes import hours_axis, mass_axis
from dashboard.theme import EXPECTED, HEIGHT, LIGHT, Look, label, new_figure, tint
from dashboard.words import wording
from dashboard.words.literal import in_figure
from models.catch.band import totals

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.catch.records.ragged_arrays import Floats, Ragged
    from models.catch.records.watch_result import CurveBand

DRAWN_SHARE = 0.97
"""Share of jobs that end within the frame of the overlaid curves; the longest and heaviest run off it."""
PANEL_HEIGHT = 250
PERCENT = 100.0


@dataclass(frozen=True, slots=True)
class Frame:
    """What the axes hold: flush minutes, and kilograms or, where `is_share`, shares of each job's total (top 1)."""

    longest: float
    top: float
    is_share: bool

    def up(self, values: Floats) -> Floats:
        """Values as they stand on the axis: kilograms, or percent."""
        return values * PERCENT if self.is_share else values


ROOM_SHARE = 0.55
"""A band that ends before this share of the frame is named behind its end, on a phone too."""


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """One job to be drawn strong: its name and its curve (`Ragged` of one curve)."""

    name: str
    curve: Ragged


def frame_of(
    lines: Ragged, *, is_share: bool, chosen: Chosen | None = None, bands: tuple[CurveBand, ...] = ()
) -> Frame:
    """A frame that holds the bands, the chosen job, and the ends of all but the outermost lines."""
    longest, top = (60.0, 1.0)
    if lines.size.size:
        longest, top = (float(np.quantile(ends, DRAWN_SHARE)) for ends in (lines.last_x(), totals(lines)))
    for band in bands:
        longest, top = max(longest, float(band.minutes[-1])), max(top, float(band.p90[-1]))
    if chosen is not None:
        longest, top = max(longest, float(chosen.curve.x.max())), max(top, float(chosen.curve.y.max()))
    return Frame(longest, 1.0 if is_share else top, is_share)


def overlay_figure(
    lines: Ragged, band: CurveBand | None, chosen: Chosen | None, frame: Frame, look: Look = LIGHT
) -> go.Figure:
    """Debris curves of many jobs, the band of similar jobs over them, the chosen job strong."""
    figure = _empty(frame, look, HEIGHT + 60)
    _draw_lines(figure, lines, frame, look, 0.35)
    if band is not None:
        _draw_band(figure, band, frame, look)
        _name_band(figure, band, frame, look, "similar jobs")
    if chosen is not None:
        _draw_chosen(figure, chosen, frame, look)
    return figure


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One group of jobs: some of its curves, its band, and the chosen job where it is one of them."""

    name: str
    lines: Ragged
    band: CurveBand
    chosen: Chosen | None = None


def panel_figure(
    panel: Panel, everyone: CurveBand, frame: Frame, look: Look = LIGHT, *, is_named: bool = False
) -> go.Figure:
    """One group of jobs beside the middle of all of them, a dotted line; `is_named` puts names to the parts."""
    lines, band = panel.lines, panel.band
    figure = _empty(frame, look, PANEL_HEIGHT)
    _draw_lines(figure, lines, frame, look, 0.3)
    _draw_band(figure, band, frame, look)
    figure.add_scatter(
        x=everyone.minutes,
        y=frame.up(everyone.p50),
        mode="lines",
        hoverinfo="skip",
        line={"color": look.text, "width": 1.5, "dash": "dot"},
    )
    if is_named:
        _name_band(figure, band, frame, look, "of the group")
        at = int(0.62 * everyone.minutes.size) if frame.is_share else -1
        figure.add_annotation(
            label(
                look,
                look.text,
                "all jobs",
                float(everyone.minutes[at]),
                float(frame.up(everyone.p50)[at]),
                yanchor="top",
                xanchor="left",
            )
        )
    if panel.chosen is not None:
        _draw_chosen(figure, panel.chosen, frame, look, marker=4)
    return figure


def panel_alt(panel: Panel, everyone: CurveBand, frame: Frame) -> str:
    """What one panel shows, in words."""
    return (
        f"{panel.name}, {wording.count(panel.band.jobs, 'job')}: {band_words(panel.band, frame)}. "
        f"Of all jobs {band_words(everyone, frame)}."
    )


def overlay_alt(jobs: int, band: CurveBand | None, chosen: Chosen | None, frame: Frame) -> str:
    """What the overlaid curves show, in words."""
    unit = "share of each job's magnetite" if frame.is_share else "magnetite"
    parts = [f"{unit.capitalize()} caught over flush time, {wording.count(jobs, 'job')} overlaid."]
    if band is not None:
        parts.append(f"Of {band.jobs} similar jobs {band_words(band, frame)}.")
    if chosen is not None and not frame.is_share:
        parts.append(f"Job {chosen.name} ends at {wording.kilograms(float(chosen.curve.y[-1]))}.")
    return " ".join(parts)


def band_words(band: CurveBand, frame: Frame) -> str:
    """The band in words: where its jobs end, or when half of it had come."""
    if not frame.is_share:
        low, middle, high = (wording.kilograms(float(values[-1])) for values in (band.p10, band.p50, band.p90))
        return f"the middle one ends at {middle}, 8 in 10 between {low} and {high}"
    times = [_first_at(band, values, 0.5) for values in (band.p90, band.p50, band.p10)]
    early, middle, late = (wording.duration(time) if time is not None else "later than drawn" for time in times)
    return f"the middle one had half of it after {middle}, 8 in 10 between {early} and {late}"


def _first_at(band: CurveBand, values: Floats, share: float) -> float | None:
    reached = np.flatnonzero(values >= share)
    return float(band.minutes[reached[0]]) if reached.size else None


def _empty(frame: Frame, look: Look, height: int) -> go.Figure:
    figure = new_figure(look, height=height)
    figure.update_xaxes(hours_axis(frame.longest, "Flushing hours"))
    shares = {"title": {"text": "Share of the job's magnetite [%]"}, "range": [0, 104], "nticks": 6}
    figure.update_yaxes(shares if frame.is_share else mass_axis(frame.top, "Magnetite, dry"))
    return figure


def _draw_lines(figure: go.Figure, lines: Ragged, frame: Frame, look: Look, strength: float) -> None:
    """Every curve in one line with gaps between jobs: one trace draws a thousand jobs quickly."""
    number = np.arange(lines.size.size)
    x, y = (np.full(lines.x.size + 2 * number.size, np.nan) for _ in range(2))
    begins, inside = 2 * number + lines.first, np.arange(lines.x.size) + np.repeat(2 * number + 1, lines.size)
    x[begins], y[begins] = 0.0, 0.0
    x[inside], y[inside] = lines.x, frame.up(lines.y)
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": tint(look.muted, strength), "width": 1},
        hoverinfo="skip",
        connectgaps=False,
    )


def _draw_band(figure: go.Figure, band: CurveBand, frame: Frame, look: Look) -> None:
    skip: dict[str, Any] = {"mode": "lines", "hoverinfo": "skip"}
    for low, high, strength in ((band.p10, band.p90, 0.16), (band.p25, band.p75, 0.24)):
        figure.add_scatter(x=band.minutes, y=frame.up(low), line={"width": 0}, **skip)
        figure.add_scatter(
            x=band.minutes,
            y=frame.up(high),
            line={"width": 0},
            fill="tonexty",
            fillcolor=tint(look.debris, strength),
            **skip,
        )
    unit = "%{y:.0f} %" if frame.is_share else "%{y:.2f} kg"
    figure.add_scatter(
        x=band.minutes,
        y=frame.up(band.p50),
        mode="lines",
        line={"color": look.debris, "width": 2.5, "dash": EXPECTED},
        hovertemplate="middle job, %{x:.0f} min: " + unit + "<extra></extra>",
    )


def _name_band(figure: go.Figure, band: CurveBand, frame: Frame, look: Look, of_what: str) -> None:
    """Names beside the band: behind its end in kilograms where there is room, else above it; in shares, which all end
    at the same height, on its rise."""
    last = band.minutes.size - 1
    outer, middle = (int(0.12 * last), int(0.3 * last)) if frame.is_share else (last, last)
    has_room = not frame.is_share and band.minutes[-1] < ROOM_SHARE * frame.longest
    side = {"xanchor": "left", "xshift": 8} if frame.is_share or has_room else {"xanchor": "right"}
    over = "top" if frame.is_share else "middle" if has_room else "bottom"
    figure.add_annotation(
        label(
            look,
            look.debris,
            f"8 in 10 {of_what}",
            float(band.minutes[outer]),
            float(frame.up(band.p10 if frame.is_share else band.p90)[outer]),
            yanchor="bottom" if has_room else over,
            **side,
        )
    )
    figure.add_annotation(
        label(
            look,
            look.debris,
            "the middle one",
            float(band.minutes[middle]),
            float(frame.up(band.p50)[middle]),
            yanchor=over,
            **side,
        )
    )


def _draw_chosen(figure: go.Figure, chosen: Chosen, frame: Frame, look: Look, *, marker: int = 7) -> None:
    x, y = np.concatenate([[0.0], chosen.curve.x]), frame.up(np.concatenate([[0.0], chosen.curve.y]))
    unit = "%{y:.0f} %" if frame.is_share else "%{y:.2f} kg"
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines+markers",
        line={"color": look.text, "width": 2.5},
        marker={"size": marker, "color": look.text},
        hovertemplate="%{x:.0f} min: " + unit + "<extra></extra>",
    )
    at = int(0.55 * (x.size - 1)) if frame.is_share else -1
    below = {"yanchor": "top"} if frame.is_share else {"yanchor": "bottom"}
    has_room = x[at] < ROOM_SHARE * frame.longest
    side = {"xanchor": "left", "xshift": 6} if has_room else {"xanchor": "right", "xshift": -6}
    figure.add_annotation(
        label(look, look.text, f"<b>{in_figure(chosen.name)}</b>", float(x[at]), float(y[at]), **side, **below)
    )
