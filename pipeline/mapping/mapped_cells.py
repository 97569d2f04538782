"""Cells of a firm → the job log's own spelling: numbers with their unit, days and moments, words.

What cannot be read as the mapping says stays as it came, so that the checks reject it under its own
value; `misread` marks the cells that the checks would take for something else than the firm meant.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import polars as pl

from pipeline.contract.columns import Column
from pipeline.mapping.confirmed_mapping import ColumnMap
from pipeline.mapping.foreign_units import INCH_WORDS, TUBE_COLUMNS, TUBE_UNITS, Unit, unit_words, units_of
from pipeline.readers.spreadsheet_serials import serial_text

_DIGITS = 12
_INCH_FRACTION = r"""^(?:(\d+)[ -])?(\d+)/(\d+)\s*(?:"|″|''|in|inch|inches)?$"""
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CLOCK = r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(\.\d+)?)?\s*(?i)(am|pm)?"
_TAIL = rf"(?:[T ,]+{_CLOCK})?$"
_ISO = rf"^(?P<y>\d{{4}})[-/.](?P<m>\d{{1,2}})[-/.](?P<d>\d{{1,2}}){_TAIL}"
_DMY = rf"^(?P<d>\d{{1,2}})[-/. ](?P<m>\d{{1,2}})[-/. ](?P<y>\d{{4}}|\d{{2}}){_TAIL}"
_MDY = rf"^(?P<m>\d{{1,2}})[-/. ](?P<d>\d{{1,2}})[-/. ](?P<y>\d{{4}}|\d{{2}}){_TAIL}"
_NAMED = rf"^(?P<d>\d{{1,2}})(?:st|nd|rd|th)?[-/. ]+(?P<m>[A-Za-z]{{3,9}})[-/., ]+(?P<y>\d{{4}}|\d{{2}}){_TAIL}"
NUMERIC_DATE = r"^\d{1,2}[-/. ]\d{1,2}[-/. ](?:\d{4}|\d{2})(?:\D|$)"
"""A day in figures whose year stands last: it can be read two ways."""

_ISO_MOMENT = r"^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?$"
"""The job log's own spelling, kept to the last digit."""

_CENTURY_TURN = 80
"""Years of two figures: 80 to 99 are of the last century, because no record is older than 1980."""


@dataclass(frozen=True, slots=True)
class CellExpression:
    """The converted cells, and where a cell that could not be converted would be taken for another value."""

    text: pl.Expr
    misread: pl.Expr


def cells(column: Column, mapped: ColumnMap, heading: str, date_heading: str) -> CellExpression:
    """How the column is made from the text cells of `heading` (and `date_heading` for the day of a clock time)."""
    raw = pl.col(heading).str.replace_all("\xa0", " ", literal=True).str.strip_chars().replace("", None)
    if column.kind in ("number", "integer"):
        return _number_cells(raw, column, mapped)
    if column.kind == "date":
        return _or_raw(date_text(raw, mapped.dates), raw)
    if column.kind == "time":
        moment = moment_text(raw, mapped.dates)
        if date_heading:
            day = date_text(pl.col(date_heading).str.strip_chars().replace("", None), mapped.dates)
            moment = pl.coalesce(moment, pl.concat_str([day, pl.lit("T"), clock_text(raw)]))
        return _or_raw(pl.when(~raw.str.contains(_ISO_MOMENT)).then(moment), raw)
    if mapped.values:
        words = {theirs.lower(): ours for theirs, ours in mapped.values if ours}
        return _or_raw(_word(raw, words), raw)
    return CellExpression(raw, pl.lit(False))


def _or_raw(converted: pl.Expr, raw: pl.Expr) -> CellExpression:
    """ISO dates and the contract's words are read before, so nothing raw is taken for another value."""
    return CellExpression(pl.coalesce(converted, raw), pl.lit(False))


def _word(raw: pl.Expr, words: dict[str, str]) -> pl.Expr:
    return raw.str.to_lowercase().replace_strict(words, default=None, return_dtype=pl.String)


def _number_cells(raw: pl.Expr, column: Column, mapped: ColumnMap) -> CellExpression:
    figures, word = _figures(raw, mapped)
    known = units_of(column)
    if not known:
        text: pl.Expr = pl.when(word == "").then(figures)
        return CellExpression(pl.coalesce(text, raw), _misread(raw, text))
    plain = figures.cast(pl.Float64, strict=False)
    text = pl.lit(None, pl.String)
    for unit in known.values():
        is_meant = mapped.unit == unit.name or (not mapped.unit and unit.factor == 1.0 and not unit.sizes)
        if column.name in TUBE_COLUMNS and unit.name in TUBE_UNITS and not is_meant:
            continue  # an inch that is not the one agreed on could be any of four
        words = [*unit_words(unit), *(INCH_WORDS if unit.sizes else ()), *([""] if is_meant else ())]
        text = pl.coalesce(text, pl.when(word.is_in(words)).then(_in_base(raw, figures, plain, unit)))
        if is_meant and (unit.sizes or unit.name == "inch"):
            text = pl.coalesce(text, _number_text(_from_inches(_fraction(raw), unit)))
    return CellExpression(pl.coalesce(text, raw), _misread(raw, text))


def _figures(raw: pl.Expr, mapped: ColumnMap) -> tuple[pl.Expr, pl.Expr]:
    """The number in a cell in plain figures, and the unit's word behind it; null where the cell is otherwise."""
    point, mark = re.escape(mapped.decimal), re.escape(mapped.thousands)
    whole = rf"\d{{1,3}}(?:{mark}\d{{3}})+|\d+" if mapped.thousands else r"\d+"
    number = rf"[+-]?(?:(?:{whole})(?:{point}\d*)?|{point}\d+)(?:[eE][+-]?\d+)?"
    pattern = rf"^({number})\s*([^\d\s.,;+-][^\d;]*|)$"
    figures = raw.str.extract(pattern, 1)
    if mapped.thousands:
        figures = figures.str.replace_all(mapped.thousands, "", literal=True)
    if mapped.decimal != ".":
        figures = figures.str.replace(mapped.decimal, ".", literal=True)
    word = raw.str.extract(pattern, 2).str.to_lowercase().str.strip_chars(" .").str.replace_all(r"\s+", " ")
    return figures, word


def _in_base(raw: pl.Expr, figures: pl.Expr, plain: pl.Expr, unit: Unit) -> pl.Expr:
    if unit.sizes:
        return _number_text(_from_inches(pl.coalesce(_fraction(raw), plain), unit))
    if unit.factor == 1.0 and unit.offset == 0.0:
        return figures
    return _number_text((plain - unit.offset) * unit.factor)


def _number_text(value: pl.Expr) -> pl.Expr:
    return pl.when(value.is_finite()).then(value.round_sig_figs(_DIGITS)).cast(pl.String)


def _fraction(raw: pl.Expr) -> pl.Expr:
    """`3/4` and `1 1/4` as a number."""
    part = [raw.str.extract(_INCH_FRACTION, i).cast(pl.Float64, strict=False) for i in (1, 2, 3)]
    return part[0].fill_null(0.0) + part[1] / part[2]


def _from_inches(inches: pl.Expr, unit: Unit) -> pl.Expr:
    if unit.sizes:
        return inches.replace_strict(dict(unit.sizes), default=None, return_dtype=pl.Float64)
    return inches * unit.factor


def _misread(raw: pl.Expr, text: pl.Expr) -> pl.Expr:
    return text.is_null() & raw.cast(pl.Float64, strict=False).is_not_null()


def _groups(raw: pl.Expr, pattern: str) -> pl.Expr:
    """Year, month, day, hour, minute, second and half of the day; null where the cell is otherwise."""
    return raw.str.extract_groups(pattern)


def _day(groups: pl.Expr) -> pl.Expr:
    year = groups.struct.field("y").cast(pl.Int64, strict=False)
    short = groups.struct.field("y").str.len_chars() == 2
    year = pl.when(short & (year >= _CENTURY_TURN)).then(year + 1900).when(short).then(year + 2000).otherwise(year)
    month = groups.struct.field("m").str.to_lowercase().str.slice(0, 3)
    named = month.replace_strict({name: i for i, name in enumerate(_MONTHS, 1)}, default=None, return_dtype=pl.Int64)
    month = pl.coalesce(groups.struct.field("m").cast(pl.Int64, strict=False), named)
    parts = [year, month, groups.struct.field("d").cast(pl.Int64, strict=False)]
    text = pl.format("{}-{}-{}", parts[0], *(part.cast(pl.String).str.zfill(2) for part in parts[1:]))
    return text.str.to_date("%Y-%m-%d", strict=False).dt.to_string("%Y-%m-%d")


def _clock(groups: pl.Expr, first: int) -> pl.Expr:
    """`HH:MM:SS`, with the fraction of a second that a cell has, out of five groups from `first` on."""
    hour, minute, second = (groups.struct.field(str(first + i)).cast(pl.Int64, strict=False) for i in range(3))
    half = groups.struct.field(str(first + 4)).str.to_lowercase()
    fraction = groups.struct.field(str(first + 3)).fill_null("")
    hour = (
        pl.when(half.is_null())
        .then(hour)
        .when(~hour.is_between(1, 12))
        .then(None)
        .when(half == "pm")
        .then(hour % 12 + 12)
        .otherwise(hour % 12)
    )
    second = second.fill_null(0)
    valid = hour.is_between(0, 23) & minute.is_between(0, 59) & second.is_between(0, 59)
    parts = [part.cast(pl.String).str.zfill(2) for part in (hour, minute, second)]
    return pl.when(valid).then(pl.format("{}:{}:{}{}", *parts, fraction))


def _patterns(order: str) -> list[str]:
    ordered = {"dmy": [_DMY], "mdy": [_MDY]}.get(order.partition(" ")[0], [])
    return [_ISO, _NAMED, *ordered]


def date_text(raw: pl.Expr, order: str) -> pl.Expr:
    """Cells that hold a day, with or without a clock time, as `2031-03-04`; null for all others."""
    found = [_day(_groups(raw, pattern)) for pattern in _patterns(order)]
    if "serial" in order:
        found.append(serial_text(raw, whole_days=True, from_1904=order.endswith("1904")))
    return pl.coalesce(found)


def moment_text(raw: pl.Expr, order: str) -> pl.Expr:
    """Cells that hold a day and a clock time as `2031-03-04T09:15:00`; null for all others."""
    found = []
    for pattern in _patterns(order):
        groups = _groups(raw, pattern)
        found.append(pl.concat_str([_day(groups), pl.lit("T"), _clock(groups, 4)]))
    if "serial" in order:
        found.append(serial_text(raw, whole_days=False, from_1904=order.endswith("1904")))
    return pl.coalesce(found)


def clock_text(raw: pl.Expr) -> pl.Expr:
    """Cells that hold a clock time alone (`9:15`, `09.15`, `4:30 pm`) as `09:15:00`; null for all others."""
    return _clock(_groups(raw, rf"^{_CLOCK}$"), 1)
