"""How well a heading and its values fit a column of the contract, and how firmly its words claim it.

The score, from 0 to 1, finds the table and orders what is asked; it takes nothing. What is taken is
decided in `headings_settled`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from pipeline.mapping.foreign_units import unit_named, units_of
from pipeline.mapping.heading_doubts import (
    DOUBTFUL,
    FORBIDDING,
    NEUTRAL,
    NEUTRAL_ANYWHERE,
    NEUTRAL_OF_KIND,
    STATE_WORDS,
    UNIT_DECIDES,
)
from pipeline.mapping.heading_values import Against, against, repeats
from pipeline.mapping.trade_words import TABLE_WORDS, accounted, likeness, phrases_of, tokens
from pipeline.mapping.value_shapes import Shape

LIKELY = 0.55
"""From this score on a heading speaks for a table."""

POSSIBLE = 0.3
"""From this score on a column is named as one that a heading might be."""

Claim = Literal["firm", "doubtful", "partial", "none"]
"""How the words of a heading claim a column: all of them with a phrase that decides; with one that does not; a phrase
and words beside it that nothing accounts for; not at all."""

SHORTEST_UNIT_WORD = 4
"""A unit that opens a heading is taken for one from this length on: `hours`, not `h`."""

_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_MAIN_COLUMNS = {"catches": "mass_g", "emitters": "emitter_kind"}
"""What a numbered heading holds that says nothing but the table: `catch 3` is a mass, `radiator 3` a kind."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A heading as a candidate for a column: its score from 0 to 1, the units its heading can mean, how its words claim
    the column, and what its values have against it."""

    heading: str
    column: str
    score: float
    units: tuple[str, ...] = ()
    claim: Claim = "firm"
    against: Against | None = None

    @property
    def is_hopeless(self) -> bool:
        """Whether it cannot be this column, whatever its heading says."""
        return self.against is not None and self.against.is_hopeless


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
    for word in words[:1]:  # `hours on site` says its unit first, as a word of its own
        if len(word) >= SHORTEST_UNIT_WORD and (found := unit_named(word, column)):
            return heading, found
    return heading, ()


def fit(shape: Shape, column: Column, table: str, label: str = "") -> Fit:
    """Judge one heading for one column of a table. `label` stands for the heading where that is numbered."""
    rest, units = heading_units(label or shape.heading, column)
    bare = " ".join(sorted(tokens(rest) - tokens(TABLE_WORDS[table]))) if label else ""
    says = against(shape, column, units) or repeats(shape, column, table)
    if shape.heading == column.name:
        return Fit(shape.heading, column.name, 1.0, (), "firm", says)
    name = likeness(rest, (*phrases_of(column.name), *_doubtful(column.name)))
    claim = _claim(rest, label or shape.heading, column, table, has_unit=bool(units))
    if label and not tokens(bare) and column.name == _MAIN_COLUMNS.get(table):
        name, claim = max(name, 0.9), "firm"
    elif bare:
        name = max(name, 0.95 * likeness(bare, phrases_of(column.name)))
        claim = min(claim, _claim(bare, bare, column, table, has_unit=bool(units)), key=CLAIMS.index)
    if claim == "none" and column.name == "weighed" and says is None and shape.filled:
        claim = "partial"  # words such as wet and dry under any heading are never passed over
    worth = 1.0 if says is None else 0.4 if says.is_hopeless else 0.7
    score = round(min(1.0, name * worth + (0.05 if units and name else 0.0)), 2)
    return Fit(shape.heading, column.name, score, units, claim, says)


CLAIMS: tuple[Claim, ...] = ("firm", "doubtful", "partial", "none")


def _doubtful(name: str) -> tuple[str, ...]:
    return tuple(DOUBTFUL[name].split("|")) if name in DOUBTFUL else ()


def _claim(rest: str, whole: str, column: Column, table: str, *, has_unit: bool) -> Claim:
    """How words claim a column."""
    passed = set(tokens(NEUTRAL[table]) | NEUTRAL_ANYWHERE | NEUTRAL_OF_KIND.get(column.kind, frozenset()))
    if column.unit == "currency":
        passed |= {"£", "€", "$"}
    if column.unit and not units_of(column):
        passed |= tokens(column.unit)
    if column.name == "mass_g" and len({STATE_WORDS[word] for word in tokens(rest) & STATE_WORDS.keys()}) == 1:
        passed |= set(STATE_WORDS)
    left = [accounted(tokens(rest), tokens(phrase)) for phrase in phrases_of(column.name)]
    left.append(accounted(tokens(whole), tokens(column.name.replace("_", " "))))
    doubts = [accounted(tokens(rest), tokens(phrase)) for phrase in _doubtful(column.name)]
    if any(words is not None and words <= passed for words in left):
        return "firm"
    if any(words is not None and words <= passed for words in doubts):
        return "firm" if has_unit and column.name in UNIT_DECIDES else "doubtful"
    beside = [words for words in (*left, *doubts) if words is not None]
    return "partial" if any(not (words - passed) & FORBIDDING for words in beside) else "none"


def fits(shapes: Iterable[Shape], table: str, labels: dict[str, str] | None = None) -> list[Fit]:
    """Every possible pair of heading and column of a table, the best first."""
    labels = labels or {}
    found = [
        fit(shape, column, table, labels.get(shape.heading, ""))
        for shape in shapes
        for column in JOB_LOG[table].columns
    ]
    return sorted(
        (each for each in found if each.score >= POSSIBLE or each.claim != "none"), key=lambda each: -each.score
    )


def likeliest(candidates: Sequence[Fit]) -> dict[str, Fit]:
    """Heading → the column that it is most like, each column once: what tells a table, and takes nothing."""
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
