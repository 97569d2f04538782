"""Pictures on paper, drawn as lines: what is likely as a bar, and curves against an axis. Each returns nothing
and moves the sheet on below itself. Values come in their own unit, positions are in mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dashboard.papers.sheet import LOOK, SMALL, Sheet, rgb
from models.quantiles import Quantiles


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A curve: points (x, y), its colour, its name written at its end, broken where it is a forecast."""

    points: tuple[tuple[float, float], ...]
    colour: str
    name: str = ""
    is_expected: bool = False
    is_marked: bool = False


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: its words with the unit, and how a mark on it is written."""

    title: str
    shown: Callable[[float], str]
    step: float = 1.0
    """Marks stand at round multiples of it: 60 for minutes shown as hours."""


def marks(top: float, most: int = 6) -> list[float]:
    """Round marks from nought up to at least `top`.

    >>> marks(0.9), marks(480, 4)
    ([0.0, 0.2, 0.4, 0.6, 0.8, 1.0], [0.0, 200.0, 400.0, 600.0])
    """
    raw = max(top, 1e-9) / most
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * m for m in (1, 2, 2.5, 5, 10) if size * m >= raw * 0.999999)
    count = math.ceil(top / step - 1e-9)
    return [round(step * i, 10) for i in range(max(count, 1) + 1)]


def likely(sheet: Sheet, name: str, forecast: Quantiles, colour: str, axis: Axis) -> None:
    """One forecast as a band: 9 in 10 as a line, 8 in 10 as a bar, the middle marked. From nought."""
    height, label = 12.0, 42.0
    if sheet.will_page_break(height + 6):
        sheet.add_page()
    left, top = sheet.l_margin + label, sheet.get_y() + 1.5
    width = sheet.epw - label - 4
    ticks = [axis.step * tick for tick in marks(forecast.p95 / axis.step)]
    scale = width / ticks[-1]
    sheet.letters(SMALL + 1, bold=True)
    sheet.set_xy(sheet.l_margin, top + 0.8)
    sheet.cell(label - 2, 4.4, sheet.fitted(name, label - 2))
    middle = top + 3.0
    sheet.set_draw_color(*rgb(colour))
    sheet.set_line_width(0.5)
    sheet.line(left + forecast.p05 * scale, middle, left + forecast.p95 * scale, middle)
    sheet.set_fill_color(*rgb(colour))
    with sheet.local_context(fill_opacity=0.35):
        sheet.rect(left + forecast.p10 * scale, top + 0.8, (forecast.p90 - forecast.p10) * scale, 4.4, style="F")
    sheet.set_line_width(1.1)
    sheet.line(left + forecast.p50 * scale, top, left + forecast.p50 * scale, top + 6)
    _ticks(sheet, ticks, left, top + 7, scale, axis)
    sheet.set_xy(sheet.l_margin, top + height)


def _ticks(sheet: Sheet, ticks: Sequence[float], left: float, at: float, scale: float, axis: Axis) -> None:
    sheet.set_draw_color(*rgb(LOOK.muted))
    sheet.set_line_width(0.2)
    sheet.line(left, at, left + ticks[-1] * scale, at)
    sheet.letters(SMALL - 1, colour=LOOK.muted)
    for tick in ticks:
        x = left + tick * scale
        sheet.line(x, at, x, at + 0.8)
        sheet.set_xy(x - 12, at + 0.9)
        sheet.cell(24, 3, sheet.words(axis.shown(tick)), align="C")
    if axis.title:
        sheet.set_xy(sheet.l_margin, at + 0.9)
        sheet.cell(30, 3, sheet.words(axis.title))


def curves(
    sheet: Sheet,
    lines: Sequence[DrawnLine],
    across: Axis,
    up: Axis,
    *,
    height: float = 56.0,
    band: Sequence[tuple[float, float, float]] = (),
    band_colour: str = LOOK.debris,
    is_from_nought: bool = True,
) -> None:
    """Curves in one frame, y from nought, x too unless told; `band` holds (x, low, high), drawn as expected."""
    if sheet.will_page_break(height + 12):
        sheet.add_page()
    left, top = sheet.l_margin + 14, sheet.get_y() + 5
    width = sheet.epw - 14 - 24
    xs = [x for line in lines for x, _ in line.points] + [x for x, _, _ in band]
    ys = [y for line in lines for _, y in line.points] + [high for _, _, high in band]
    first, last = (0.0 if is_from_nought else min(xs)), max(xs)
    all_ticks = [across.step * tick for tick in marks(last / across.step, 8 if is_from_nought else 12)]
    x_ticks = [tick for tick in all_ticks if first <= tick <= last * 1.001]
    y_ticks = marks(max(max(ys), 1e-9), 5)
    frame = _Frame(left, top, width / max(last - first, 1e-9), height / y_ticks[-1], height, first)
    _frame(sheet, frame, x_ticks, y_ticks, across, up, width)
    if band:
        edge = [frame.at(x, low) for x, low, _ in band] + [frame.at(x, high) for x, _, high in reversed(band)]
        sheet.set_fill_color(*rgb(band_colour))
        with sheet.local_context(fill_opacity=0.22):
            sheet.polygon(edge, style="F")
    for line in lines:
        _draw(sheet, line, frame)
    sheet.set_xy(sheet.l_margin, top + height + 10)


@dataclass(frozen=True, slots=True)
class _Frame:
    left: float
    top: float
    across: float
    up: float
    height: float
    first: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        return self.left + (x - self.first) * self.across, self.top + self.height - y * self.up


def _frame(
    sheet: Sheet,
    frame: _Frame,
    x_ticks: Sequence[float],
    y_ticks: Sequence[float],
    across: Axis,
    up: Axis,
    width: float,
) -> None:
    sheet.letters(SMALL - 1, colour=LOOK.muted)
    sheet.set_line_width(0.2)
    for tick in y_ticks:
        y = frame.at(frame.first, tick)[1]
        sheet.set_draw_color(*rgb(LOOK.grid if tick else LOOK.muted))
        sheet.line(frame.left, y, frame.left + width, y)
        sheet.set_xy(sheet.l_margin, y - 1.5)
        sheet.cell(12.5, 3, sheet.words(up.shown(tick)), align="R")
    base = frame.top + frame.height
    for tick in x_ticks:
        x = frame.at(tick, 0)[0]
        sheet.set_xy(x - 12, base + 0.8)
        sheet.cell(24, 3, sheet.words(across.shown(tick)), align="C")
    sheet.set_xy(frame.left, base + 4)
    sheet.cell(width, 3.4, sheet.words(across.title), align="C")
    sheet.set_xy(sheet.l_margin, frame.top - 5)
    sheet.cell(80, 3.4, sheet.words(up.title))


def _draw(sheet: Sheet, line: DrawnLine, frame: _Frame) -> None:
    points = [frame.at(x, y) for x, y in line.points]
    sheet.set_draw_color(*rgb(line.colour))
    sheet.set_line_width(0.55)
    if line.is_expected:
        sheet.set_dash_pattern(dash=1.6, gap=1.1)
    if len(points) > 1:
        sheet.polyline(points)
    sheet.set_dash_pattern()
    if line.is_marked:
        sheet.set_fill_color(*rgb(line.colour))
        for x, y in points:
            sheet.ellipse(x - 0.7, y - 0.7, 1.4, 1.4, style="F")
    if line.name and points:
        sheet.letters(SMALL, bold=True, colour=line.colour)
        above = 4.2 if points[-1][1] > frame.top + frame.height - 3 else 2.0  # clear of the axis
        sheet.set_xy(points[-1][0] + 1.2, points[-1][1] - above)
        sheet.cell(24, 4, sheet.fitted(line.name, 24))
