"""Pictures of the audit report: the forest of effects and the funnel of engineers. Positions in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dashboard.papers.drawing import marks
from dashboard.papers.sheet import LOOK, SMALL, Sheet, rgb
from dashboard.words.audit_words import avoided, avoided_by, signed
from models.practice.results.audit_result import PracticeEffect
from models.practice.results.engineer_results import Funnel

LABEL, ROW = 60.0, 5.2
HEIGHT = 32.0
TALLEST = 4.0


@dataclass(frozen=True, slots=True)
class _Scale:
    left: float
    low: float
    each: float

    def at(self, value: float) -> float:
        return self.left + (value - self.low) * self.each


def forest(sheet: Sheet, effects: Sequence[PracticeEffect], title: str) -> None:
    """One row an effect: interval, mark (filled where a verdict is given), the bare difference grey below it."""
    if sheet.will_page_break(ROW * len(effects) + 16):
        sheet.add_page()
    bare = {e.contrast: avoided(e.raw.difference, e.raw.low, e.raw.high) for e in effects if e.raw is not None}
    ends = [end for e in effects for end in avoided_by(e)] + [each[0] for each in bare.values()]
    low, high = min(0.0, *ends), max(0.0, *ends)
    width = sheet.epw - LABEL - 4
    scale = _Scale(sheet.l_margin + LABEL, low, width / max(high - low, 1e-9))
    top = sheet.get_y() + 1
    bottom = top + ROW * len(effects)
    _upright(sheet, scale, (low, high), top, bottom)
    for number, effect in enumerate(effects):
        y = top + ROW * (number + 0.4)
        sheet.letters(SMALL + 0.3)
        sheet.set_xy(sheet.l_margin, y - 2)
        sheet.cell(LABEL - 2, 4, sheet.fitted(effect.label, LABEL - 2))
        is_told = effect.verdict != "cannot be told yet"
        colour = {"cuts callbacks": LOOK.accent, "raises callbacks": LOOK.debris}.get(effect.verdict, LOOK.ink)
        if effect.contrast in bare:
            middle, first, last = bare[effect.contrast]
            _interval(sheet, scale, (middle, max(first, low), min(last, high)), y + 1.9, LOOK.muted, is_bare=True)
        _interval(sheet, scale, avoided_by(effect), y, colour, is_filled=is_told)
    sheet.letters(SMALL - 1, colour=LOOK.muted)
    sheet.set_xy(scale.left, bottom + 3.6)
    sheet.cell(width, 3.4, sheet.words(title), align="C")
    sheet.set_xy(sheet.l_margin, bottom + 8)


def _interval(
    sheet: Sheet,
    scale: _Scale,
    effect: tuple[float, float, float],
    y: float,
    colour: str,
    *,
    is_filled: bool = False,
    is_bare: bool = False,
) -> None:
    middle, low, high = effect
    sheet.set_draw_color(*rgb(colour))
    sheet.set_line_width(0.2 if is_bare else 0.6)
    sheet.line(scale.at(low), y, scale.at(high), y)
    x = scale.at(middle)
    if is_bare:
        sheet.line(x, y - 0.9, x, y + 0.9)
        return
    sheet.set_fill_color(*rgb(colour if is_filled else LOOK.page))
    if is_filled:
        sheet.polygon([(x - 1.4, y), (x, y - 1.4), (x + 1.4, y), (x, y + 1.4)], style="DF")
    else:
        sheet.ellipse(x - 1.1, y - 1.1, 2.2, 2.2, style="DF")


def _upright(sheet: Sheet, scale: _Scale, ends: tuple[float, float], top: float, bottom: float) -> None:
    low, high = ends
    step = marks(max(high, -low), 4)[1]
    ticks = [step * number for number in range(int(low // step), int(high // step) + 1)]
    for tick in (each for each in ticks if low <= each <= high):
        sheet.set_draw_color(*rgb(LOOK.grid if tick else LOOK.muted))
        sheet.set_line_width(0.2 if tick else 0.35)
        sheet.line(scale.at(tick), top, scale.at(tick), bottom)
        sheet.letters(SMALL - 1, colour=LOOK.muted)
        sheet.set_xy(scale.at(tick) - 8, bottom + 0.5)
        sheet.cell(16, 3, sheet.words(signed(tick, 0 if step >= 1 else 1)), align="C")


def funnel(sheet: Sheet, found: Funnel) -> None:
    """Every engineer with enough jobs as a dot without a name, and what chance keeps at 95 % and 99.8 %."""
    shown = [each for each in found.engineers if each.ratio is not None and each.expected is not None]
    if not shown or not len(found.grid):
        return
    if sheet.will_page_break(HEIGHT + 14):
        sheet.add_page()
    widest = 1.12 * max([1.0, *(each.expected or 0.0 for each in shown)])
    tallest = max([min(TALLEST, float(found.wide_high_998.max())), *(1.1 * (each.ratio or 0.0) for each in shown)])
    top, left, width = sheet.get_y() + 5, sheet.l_margin + 14, sheet.epw - 40
    across, up = width / widest, HEIGHT / tallest
    _axes(sheet, (left, top), (across, up), (widest, tallest), width)
    for low, high, dash, name in (
        (found.wide_low_95, found.wide_high_95, 1.6, "95 %"),
        (found.wide_low_998, found.wide_high_998, 0.5, "99.8 %"),
    ):
        for values in (low, high):
            _limit(sheet, found.grid, values, (left, top + HEIGHT), (across, up), (widest, tallest), dash)
        at = float(np.interp(widest, found.grid, high))
        sheet.letters(SMALL - 1, colour=LOOK.muted)
        sheet.set_xy(left + width + 1, top + HEIGHT - at * up - 1.5)
        sheet.cell(16, 3, sheet.words(name))
    for each in shown:
        is_outside = each.place != "within limits"
        sheet.set_fill_color(*rgb(LOOK.debris if is_outside else LOOK.ink))
        x, y = left + (each.expected or 0.0) * across, top + HEIGHT - (each.ratio or 0.0) * up
        sheet.ellipse(x - 1.0, y - 1.0, 2.0, 2.0, style="F")
    sheet.set_xy(sheet.l_margin, top + HEIGHT + 9)


def _axes(
    sheet: Sheet, corner: tuple[float, float], scale: tuple[float, float], ends: tuple[float, float], width: float
) -> None:
    (left, top), (across, up) = corner, scale
    base = top + HEIGHT
    sheet.letters(SMALL - 1, colour=LOOK.muted)
    sheet.set_line_width(0.2)
    for tick in (each for each in marks(ends[1], 4) if each <= ends[1]):
        sheet.set_draw_color(*rgb(LOOK.muted if tick in (0, 1) else LOOK.grid))
        sheet.line(left, base - tick * up, left + width, base - tick * up)
        sheet.set_xy(sheet.l_margin, base - tick * up - 1.5)
        sheet.cell(12.5, 3, f"{tick:g}", align="R")
    for tick in (each for each in marks(ends[0], 6) if each <= ends[0]):
        sheet.set_xy(left + tick * across - 8, base + 0.8)
        sheet.cell(16, 3, f"{tick:g}", align="C")
    sheet.set_xy(left, base + 4)
    sheet.cell(width, 3.4, sheet.words("Callbacks expected of the jobs [count]"), align="C")
    sheet.set_xy(sheet.l_margin, top - 5)
    sheet.cell(80, 3.4, sheet.words("Callbacks seen over expected [ratio]"))


def _limit(
    sheet: Sheet,
    grid: NDArray[np.float64],
    values: NDArray[np.float64],
    corner: tuple[float, float],
    scale: tuple[float, float],
    ends: tuple[float, float],
    dash: float,
) -> None:
    inside = (grid <= ends[0]) & (values <= ends[1])
    points = [
        (corner[0] + x * scale[0], corner[1] - y * scale[1]) for x, y in zip(grid[inside], values[inside], strict=True)
    ]
    if len(points) < 2:
        return
    sheet.set_draw_color(*rgb(LOOK.muted))
    sheet.set_line_width(0.3)
    sheet.set_dash_pattern(dash=dash, gap=1.0)
    sheet.polyline(points)
    sheet.set_dash_pattern()
