"""What the values of a column look like: numbers, days, moments, clock times, words; decided from all of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

import polars as pl

from pipeline.mapping.foreign_units import UNITS, unit_words
from pipeline.mapping.mapped_cells import NUMERIC_DATE, clock_text, date_text, moment_text
from pipeline.privacy.private_columns import private_values
from pipeline.readers.spreadsheet_serials import FIRST_SERIAL, LAST_SERIAL

MAX_WORDS = 60
"""Distinct words of a column that are looked at as choices."""

_SHOWN = 3
_SHOWN_CHARACTERS = 40
_NUMBER = r"""^[+-]?(?:\d[\d.,' ]*|[.,]\d+|(?:\d+[ -])?\d+/\d+)\s*([^\d\s.,;+-][^\d;]*|)$"""
_NUMBER_ONLY = r"^([+-]?[\d.,' ]+)"
_TWO_PARTS = re.compile(r"^(\d{1,2})[-/. ](\d{1,2})[-/. ]")
_UNIT_WORDS = frozenset(word for unit in UNITS for word in unit_words(unit))


@dataclass(frozen=True, slots=True)
class Shape:
    """One column of a source. Shares are of the cells that are not empty; all 0 where every cell is empty.

    `order` is that of days in figures: dmy, mdy, `?` where it cannot be told, `both` where the column holds
    both, empty where there are none. `decimal` and `thousands` are the marks; `is_mark_open` where a comma
    or point could be either. `cell_units` are the unit words behind numbers. `middle` is what the middle half of
    the numbers spans, `is_whole` whether all of them are whole, `middle_hour` the hour of the middle clock time,
    `distinct` how many different values there are.
    """

    heading: str
    filled: int
    samples: tuple[str, ...]
    words: tuple[str, ...]
    numbers: float
    dates: float
    moments: float
    clocks: float
    serials: float
    order: str
    decimal: str
    thousands: str
    is_mark_open: bool
    cell_units: tuple[str, ...]
    private: str
    lowest: float | None
    highest: float | None
    middle: tuple[float, float] | None = None
    is_whole: bool = False
    middle_hour: float = 24.0
    distinct: int = 0


def shape_of(heading: str, cells: pl.Series) -> Shape:
    """Look at every cell of a column."""
    text = cells.str.replace_all("\xa0", " ", literal=True).str.strip_chars().replace("", None).drop_nulls().alias("c")
    counted = text.value_counts(name="times")
    distinct = text.unique(maintain_order=True)
    has_figures = bool(distinct.str.contains(r"\d").any())
    order = _order(distinct) if has_figures else ""
    shares = _shares(counted, order) if has_figures else dict.fromkeys(_KINDS, 0.0)
    decimal, thousands, is_open = _marks(distinct) if shares["numbers"] else (".", "", False)
    span = _span(distinct, decimal, thousands) if shares["numbers"] else _NO_SPAN
    return Shape(
        heading,
        text.len(),
        tuple(value[:_SHOWN_CHARACTERS] for value in distinct.head(_SHOWN)),
        tuple(distinct.str.to_lowercase().unique(maintain_order=True).head(MAX_WORDS + 1)),
        **shares,
        order=order,
        decimal=decimal,
        thousands=thousands,
        is_mark_open=is_open,
        cell_units=_cell_units(distinct) if shares["numbers"] else (),
        private=private_values(text),
        lowest=span.lowest,
        highest=span.highest,
        middle=span.middle,
        is_whole=span.is_whole,
        middle_hour=_middle_hour(distinct) if shares["clocks"] else 24.0,
        distinct=distinct.len(),
    )


_KINDS = ("numbers", "dates", "moments", "clocks", "serials")


def _shares(counted: pl.DataFrame, order: str) -> dict[str, float]:
    """Share of the cells that are of each kind; worked on the distinct ones, because readings repeat."""
    c, times = pl.col("c"), pl.col("times")
    orders = {"mdy": ("mdy",), "both": ("dmy", "mdy")}.get(order, ("dmy",))
    serial = c.str.contains(r"^\d{5}(\.\d+)?$") & c.cast(pl.Float64, strict=False).is_between(FIRST_SERIAL, LAST_SERIAL)
    kinds = {
        "numbers": c.str.contains(_NUMBER),
        "dates": pl.any_horizontal(date_text(c, each).is_not_null() for each in orders),
        "moments": pl.any_horizontal(moment_text(c, each).is_not_null() for each in orders),
        "clocks": clock_text(c).is_not_null(),
        "serials": serial,
    }
    found = counted.select(((times * kind).sum() / times.sum()).alias(name) for name, kind in kinds.items())
    return {name: float(found[name][0] or 0.0) for name in _KINDS}


def _order(distinct: pl.Series) -> str:
    figures = distinct.filter(distinct.str.contains(NUMERIC_DATE))
    if not figures.len():
        return ""
    first = figures.str.extract(_TWO_PARTS.pattern, 1).cast(pl.Int64)
    second = figures.str.extract(_TWO_PARTS.pattern, 2).cast(pl.Int64)
    is_dmy, is_mdy = bool((first > 12).any()), bool((second > 12).any())
    return {(True, False): "dmy", (False, True): "mdy", (True, True): "both"}.get((is_dmy, is_mdy), "?")


def _marks(distinct: pl.Series) -> tuple[str, str, bool]:
    """Decimal mark, mark between thousands, and whether they could be taken the other way round."""
    numbers = distinct.filter(distinct.str.contains(_NUMBER)).str.extract(r"^([+-]?[\d.,' ]+)", 1).str.strip_chars()
    if not numbers.len():
        return ".", "", False

    def some(pattern: str) -> bool:
        return bool(numbers.str.contains(pattern).any())

    if some(r"\d\.\d{3},\d") or some(r"\d\.\d{3}\.\d{3}$"):
        return ",", ".", False
    if some(r"\d,\d{3}\.\d") or some(r"\d,\d{3},\d{3}$"):
        return ".", ",", False
    for mark in (" ", "'"):
        if some(rf"^\d{{1,3}}{mark}\d{{3}}(\D|$)"):
            return ("," if some(",") else "."), mark, False
    sure_comma = some(r"^[+-]?(0|\d*),(\d{1,2}|\d{4,})$") or some(r"^[+-]?0,\d") or some(r"\d{4,},\d")
    sure_point = some(r"^[+-]?(0|\d*)\.(\d{1,2}|\d{4,})$") or some(r"^[+-]?0\.\d") or some(r"\d{4,}\.\d")
    if some(","):
        if sure_point and not sure_comma:
            return ".", ",", False
        return ",", ("." if sure_comma and some(r"\.") and not sure_point else ""), not sure_comma
    return ".", "", some(r"\.") and not sure_point


class _Span(NamedTuple):
    lowest: float | None
    highest: float | None
    middle: tuple[float, float] | None
    is_whole: bool


_NO_SPAN = _Span(None, None, None, is_whole=False)


def _span(distinct: pl.Series, decimal: str, thousands: str) -> _Span:
    """Least and greatest number, what the middle half spans, and whether all are whole; fractions of an inch aside."""
    plain = distinct.filter(~distinct.str.contains(r"\d/\d"))
    text = plain.str.extract(_NUMBER_ONLY, 1).str.strip_chars()
    if thousands:
        text = text.str.replace_all(thousands, "", literal=True)
    values = text.str.replace(decimal, ".", literal=True).cast(pl.Float64, strict=False).drop_nulls()
    if not values.len():
        return _NO_SPAN
    low, high = (float(values.quantile(at, "nearest") or 0.0) for at in (0.25, 0.75))
    is_whole = plain.len() == distinct.len() and bool((values == values.round(0)).all())
    return _Span(float(values.min()), float(values.max()), (low, high), is_whole)  # type: ignore[arg-type]


def _middle_hour(distinct: pl.Series) -> float:
    clocks = distinct.to_frame("c").select(clock_text(pl.col("c"))).to_series().drop_nulls()
    return float(clocks.str.slice(0, 2).cast(pl.Float64).median() or 0.0) if clocks.len() else 24.0  # type: ignore[arg-type]


def _cell_units(distinct: pl.Series) -> tuple[str, ...]:
    words = distinct.str.extract(_NUMBER, 1).drop_nulls().str.to_lowercase().str.strip_chars(" .").unique()
    return tuple(sorted(word for word in words if word in _UNIT_WORDS))
