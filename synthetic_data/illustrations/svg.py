"""A small writer of SVG charts: panels with axes, lines, areas, bars and marks, all as text.

Coordinates have one decimal, so that the same numbers give the same file.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from synthetic_data.house.house import Floats

PAGE, TEXT, MUTED, GRID = "#ffffff", "#17212b", "#56626d", "#dfe5e9"
DEBRIS, FLOW, HEAT, INK = "#a94400", "#0067a3", "#8a3a6b", "#3f4a55"
"""Hues of the dashboard on white: debris, water and flow, heat, time."""

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


def nice_ticks(most: float, number: int = 5) -> list[float]:
    """Round marks from nought to `most`, at most `number` steps: 0, 20, 40, 60 for 62 in 4."""
    power = 10.0 ** math.floor(math.log10(max(most, 1e-9) / number))
    step = next(power * s for s in _STEPS if most / (power * s) <= number)
    return [round(step * i, 6) for i in range(int(most / step + 1e-9) + 1)]


def _pixels(value: float) -> str:
    text = f"{value:.1f}"
    return "0" if text in ("0.0", "-0.0") else text.removesuffix(".0")


def words(x: float, y: float, text: str, *, colour: str = TEXT, anchor: str = "start", size: int = 13) -> str:
    """A line of text at pixels."""
    return (
        f'<text x="{_pixels(x)}" y="{_pixels(y)}" fill="{colour}" font-size="{size}" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )


@dataclass(frozen=True, slots=True)
class Panel:
    """A plot at pixels (`left`, `top`, `width`, `height`); both axes run from nought, to `x_most` and `y_most`."""

    left: float
    top: float
    width: float
    height: float
    x_most: float
    y_most: float

    def x(self, value: float) -> float:
        """Pixel of a value along."""
        return self.left + self.width * value / self.x_most

    def y(self, value: float) -> float:
        """Pixel of a value up."""
        return self.top + self.height * (1.0 - value / self.y_most)

    def axes(
        self,
        title: str,
        x_title: str = "",
        *,
        y_unit: str = "",
        x_ticks: Iterable[float] = (),
        y_ticks: Iterable[float] = (),
    ) -> str:
        """Grid, marks and titles; draw it first. An axis without marks keeps its line only."""
        bottom, parts = self.top + self.height, [words(self.left, self.top - 8, title)]
        for value in x_ticks:
            at = self.x(value)
            parts.append(self._rule(at, self.top, at, bottom, GRID))
            parts.append(words(at, bottom + 16, f"{value:g}", colour=MUTED, anchor="middle", size=12))
        for value in y_ticks:
            at = self.y(value)
            parts.append(self._rule(self.left, at, self.left + self.width, at, GRID))
            parts.append(words(self.left - 6, at + 4, f"{value:g}", colour=MUTED, anchor="end", size=12))
        parts.append(self._rule(self.left, bottom, self.left + self.width, bottom, MUTED))
        if y_unit:
            parts.append(words(self.left - 6, self.top - 8, y_unit, colour=MUTED, anchor="end", size=12))
        if x_title:
            parts.append(words(self.left + self.width, bottom + 34, x_title, colour=MUTED, anchor="end", size=12))
        return "".join(parts)

    def _rule(self, x1: float, y1: float, x2: float, y2: float, colour: str) -> str:
        points = zip(("x1", "y1", "x2", "y2"), (x1, y1, x2, y2), strict=True)
        return f'<line {" ".join(f"{name}={chr(34)}{_pixels(v)}{chr(34)}" for name, v in points)} stroke="{colour}"/>'

    def _points(self, x: Sequence[float] | Floats, y: Sequence[float] | Floats) -> str:
        return " ".join(f"{_pixels(self.x(a))},{_pixels(self.y(b))}" for a, b in zip(x, y, strict=True))

    def line(self, x: Floats, y: Floats, colour: str, *, width: float = 2.0, dash: str = "") -> str:
        """A line through points; `dash` as SVG takes it."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return (
            f'<polyline points="{self._points(x, y)}" fill="none" stroke="{colour}" stroke-width="{width:g}"{dashed}/>'
        )

    def area(self, x: Floats, y: Floats, colour: str, opacity: float) -> str:
        """The area under a line."""
        ends = np.concatenate([x[:1], x, x[-1:]]), np.concatenate([[0.0], y, [0.0]])
        return f'<polygon points="{self._points(*ends)}" fill="{colour}" fill-opacity="{opacity:g}"/>'

    def marks(self, x: Floats, y: Floats, colour: str) -> str:
        """A filled circle at each point."""
        return "".join(
            f'<circle cx="{_pixels(self.x(a))}" cy="{_pixels(self.y(b))}" r="3" fill="{colour}"/>'
            for a, b in zip(x, y, strict=True)
        )

    def bar(self, x: tuple[float, float], y: tuple[float, float], colour: str, opacity: float) -> str:
        """A rectangle between two values along and two up."""
        left, top = self.x(min(x)), self.y(max(y))
        size = f'width="{_pixels(self.x(max(x)) - left)}" height="{_pixels(self.y(min(y)) - top)}"'
        return f'<rect x="{_pixels(left)}" y="{_pixels(top)}" {size} fill="{colour}" fill-opacity="{opacity:g}"/>'

    def upright(self, x: float, text: str) -> str:
        """A dotted line from top to bottom at a value, named at its head."""
        at = self.x(x)
        rule = self._rule(at, self.top, at, self.top + self.height, TEXT).replace("/>", ' stroke-dasharray="2 3"/>')
        is_late = x > 0.75 * self.x_most
        side, anchor = (-5, "end") if is_late else (5, "start")
        return rule + words(at + side, self.top + 11, text, anchor=anchor, size=12)


def document(width: int, height: int, title: str, meaning: str, parts: Iterable[str]) -> str:
    """A whole SVG file on a white plate, with a title and a description for those who cannot see it."""
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" font-family="sans-serif">\n<title>{escape(title)}</title>\n<desc>{escape(meaning)}</desc>\n'
        f'<rect width="{width}" height="{height}" fill="{PAGE}"/>\n{body}\n</svg>\n'
    )
