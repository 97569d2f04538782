"""How well a heading and its values fit a column of the contract, and which headings go to which columns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from pipeline.mapping.foreign_units import unit_named, units_of
from pipeline.mapping.trade_words import TABLE_WORDS, choice_for, likeness, phrases_of, tokens
from pipeline.mapping.value_shapes import MAX_WORDS, Shape

LIKELY = 0.55
"""From this score on a column is mapped in the proposal; below it is asked."""

POSSIBLE = 0.3
"""From this score on a column is named as one that a heading might be."""

SURE_WORD = 0.75
"""From this score on a firm's word is put beside the contract's in the proposal; below it is asked."""

_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_MAIN_COLUMNS = {"catches": "mass_g", "emitters": "emitter_kind"}
"""What a numbered heading holds that says nothing but the table: `catch 3` is a mass, `radiator 3` a kind."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A heading as a candidate for a column: its score from 0 to 1, and the units its heading can mean."""

    heading: str
    column: str
    score: float
    units: tuple[str, ...] = ()


def heading_units(heading: str, column: Column) -> tuple[str, tuple[str, ...]]:
    """The heading without its unit, and the names of the units it can mean for the column (none: no unit in it).

    >>> from pipeline.contract import JOB_LOG
    >>> heading_units("catch weight (lb)", JOB_LOG["catches"].column("mass_g"))
    ('catch weight', ('lb',))
    """
    if not units_of(column):
        return heading, ()
    for inside in _BRACKETS.finditer(heading):
        if found := unit_named(inside[1], column):
            return " ".join((heading[: inside.start()] + heading[inside.end() :]).split()), found
    words = re.split(r"[\s_,;:]+", heading.strip())
    for count in (2, 1):
        if len(words) > count and (found := unit_named(" ".join(words[-count:]), column)):
            return " ".join(words[:-count]), found
    return heading, ()


def fit(shape: Shape, column: Column, table: str, label: str = "") -> Fit:
    """Score one heading for one column of a table. `label` stands for the heading where that is numbered."""
    if shape.heading == column.name:
        return Fit(shape.heading, column.name, 1.0)
    rest, units = heading_units(label or shape.heading, column)
    name = likeness(rest, phrases_of(column.name))
    bare = tokens(rest) - tokens(TABLE_WORDS[table])
    if label and not bare and column.name == _MAIN_COLUMNS.get(table):
        name = max(name, 0.9)
    elif label and bare:
        name = max(name, 0.95 * likeness(" ".join(sorted(bare)), phrases_of(column.name)))
    score = name * (0.35 + 0.65 * _value_fit(shape, column)) * _range_fit(shape, column, units)
    return Fit(shape.heading, column.name, round(min(1.0, score + (0.05 if units and name else 0.0)), 2), units)


def _value_fit(shape: Shape, column: Column) -> float:
    """Share of the values that have the kind of the column; 1 where there are none to look at."""
    if not shape.filled:
        return 1.0
    if column.kind in ("number", "integer"):
        return shape.numbers
    if column.kind == "date":
        return max(shape.dates, shape.serials)
    if column.kind == "time":
        return max(shape.moments, shape.clocks, shape.serials)
    if column.kind in ("choice", "yes_no"):
        if len(shape.words) > MAX_WORDS:
            return 0.0
        known = sum(choice_for(column.name, column.kind, word)[1] >= SURE_WORD for word in shape.words)
        return known / len(shape.words)
    return 1.0 - 0.7 * max(shape.moments, shape.dates, shape.clocks)


def _range_fit(shape: Shape, column: Column, units: tuple[str, ...]) -> float:
    """1 where the values can be in the column's range, in some unit that the heading can mean; else 0.6."""
    if shape.lowest is None or shape.highest is None or column.kind not in ("number", "integer"):
        return 1.0
    known = [u for name, u in units_of(column).items() if (not units or name in units) and not u.sizes]
    ends = (shape.lowest, shape.highest)
    spans = [tuple((end - unit.offset) * unit.factor for end in ends) for unit in known] or [ends]
    low = -float("inf") if column.low is None else column.low
    high = float("inf") if column.high is None else column.high
    return 1.0 if any(first <= high and last >= low for first, last in spans) else 0.6


def fits(shapes: Iterable[Shape], table: str, labels: dict[str, str] | None = None) -> list[Fit]:
    """Every possible pair of heading and column of a table, the best first."""
    labels = labels or {}
    found = [
        fit(shape, column, table, labels.get(shape.heading, ""))
        for shape in shapes
        for column in JOB_LOG[table].columns
    ]
    return sorted((each for each in found if each.score >= POSSIBLE), key=lambda each: -each.score)


def assigned(candidates: Sequence[Fit]) -> dict[str, Fit]:
    """Heading → its column, each column once: the best pair first, then the best of what is left."""
    chosen: dict[str, Fit] = {}
    taken: set[str] = set()
    for each in candidates:
        if each.heading not in chosen and each.column not in taken and each.score >= LIKELY:
            chosen[each.heading] = each
            taken.add(each.column)
    return chosen


def table_score(table: str, chosen: dict[str, Fit], headings: int, stem: str) -> float:
    """How well a table fits a source as a whole: share of headings used, of required columns found, its name."""
    required = [column.name for column in JOB_LOG[table].columns if column.required]
    columns = {each.column for each in chosen.values()}
    found = sum(name in columns for name in required) / len(required)
    used = sum(each.score for each in chosen.values()) / max(1, headings)
    is_named = bool(tokens(stem) & tokens(TABLE_WORDS[table]))
    return used + 0.5 * found + 0.5 * is_named
