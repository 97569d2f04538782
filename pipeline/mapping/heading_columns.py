"""A heading that fits a column → its line of the mapping, and the questions that only a person can answer."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract.columns import Column
from pipeline.mapping.confirmed_mapping import ColumnMap, needs_unit
from pipeline.mapping.foreign_units import EACH_CELL, units_of
from pipeline.mapping.heading_match import Fit
from pipeline.mapping.heading_values import SURE_WORD
from pipeline.mapping.trade_words import choice_for
from pipeline.mapping.value_shapes import MAX_WORDS, Shape

NATIVE_WORDS = ("yes", "true", "y", "1", "no", "false", "n", "0")
"""What the job log takes for yes and no as it stands."""


@dataclass(frozen=True, slots=True)
class WordFit:
    """A firm's word, the contract's word nearest to it (empty for none), and how near, from 0 to 1."""

    word: str
    choice: str
    score: float


@dataclass(frozen=True, slots=True)
class Drafted:
    """A proposed column: the mapping as far as it is certain, what has to be asked, the words with their scores."""

    mapped: ColumnMap
    questions: tuple[str, ...]
    words: tuple[WordFit, ...] = ()


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the rest of a source tells: the column with the day, the workbook's first day, the decimal mark."""

    day: Shape | None
    is_workbook: bool
    counts_from_1904: bool
    decimal: str = ""


def draft(chosen: Fit, shape: Shape, column: Column, around: Surroundings) -> Drafted:
    """Draft one column. Whatever cannot be told from the heading and all its values becomes a question."""
    mapped = {"column": column.name, "heading": chosen.heading}
    questions: list[str] = []
    words: tuple[WordFit, ...] = ()
    if column.kind in ("number", "integer"):
        _draft_number(mapped, questions, chosen, shape, column, around)
    elif column.kind in ("date", "time"):
        _draft_date(mapped, questions, shape, column, around)
    elif column.kind in ("choice", "yes_no"):
        words = word_fits(shape, column)
        unsure = [each for each in words if each.score < SURE_WORD]
        questions += [_ask_word(each, column) for each in unsure]
    known = (*column.choices, *NATIVE_WORDS) if column.kind == "yes_no" else column.choices
    values = tuple((each.word, each.choice) for each in words if each.score >= SURE_WORD and each.word not in known)
    return Drafted(ColumnMap(**mapped, values=values), tuple(questions), words)


def _draft_number(
    mapped: dict[str, str], questions: list[str], chosen: Fit, shape: Shape, column: Column, around: Surroundings
) -> None:
    mapped["decimal"], mapped["thousands"] = shape.decimal, shape.thousands
    if shape.is_mark_open:
        mark, other = (",", ".") if shape.decimal == "," else (".", ",")
        if around.decimal:
            mapped["decimal"], mapped["thousands"] = around.decimal, "" if around.decimal == mark else mark
        else:
            # set so that a cell which can be read two ways is rejected until this is answered
            mapped["decimal"], mapped["thousands"] = other, ""
            questions.append(
                f"does the {'comma' if mark == ',' else 'point'} in {_shown(shape)} stand before decimals "
                f'(decimal = "{mark}") or between thousands (thousands = "{mark}")?'
            )
    if not needs_unit(column, ColumnMap(column.name, chosen.heading)):
        return
    if len(chosen.units) == 1:
        mapped["unit"] = chosen.units[0]
    elif not chosen.units and shape.cell_units:
        mapped["unit"] = EACH_CELL
    else:
        choices = chosen.units or tuple(units_of(column))
        questions.append(f"which unit has {chosen.heading!r} ({_shown(shape)})? unit = one of {', '.join(choices)}")


def _draft_date(
    mapped: dict[str, str], questions: list[str], shape: Shape, column: Column, around: Surroundings
) -> None:
    decisive = shape
    if column.kind == "time" and shape.clocks > max(shape.moments, shape.serials):
        if around.day is None:
            questions.append(f"which heading holds the day of {shape.heading!r} ({_shown(shape)})? date_heading = …")
            return
        mapped["date_heading"] = around.day.heading
        decisive = around.day
    if decisive.order and decisive.serials:
        questions.append(
            f"{decisive.heading!r} holds days in figures beside a spreadsheet's day numbers ({_shown(decisive)}); some "
            "programs swap day and month of the days that they turn into numbers, so look some up before you say "
            f"dates = {' or '.join(_mixed_orders(decisive.order, is_1904=around.counts_from_1904))}"
        )
    elif decisive.order in ("dmy", "mdy"):
        mapped["dates"] = decisive.order
    elif decisive.order == "?":
        questions.append(f'is the day or the month first in {_shown(decisive)}? dates = "dmy" or "mdy"')
    elif decisive.order == "both":
        questions.append(
            f"{decisive.heading!r} holds days that can only be day-month and days that can only be month-day; "
            'which of them are right? dates = "dmy" or "mdy", the others will be rejected'
        )
    elif decisive.serials:
        if around.is_workbook:
            mapped["dates"] = "serial1904" if around.counts_from_1904 else "serial"
        else:
            answers = 'dates = "serial" or "serial1904"'
            questions.append(f"do the days in {_shown(decisive)} count from 1900 or from 1904? {answers}")


def _mixed_orders(order: str, *, is_1904: bool) -> list[str]:
    told = (order,) if order in ("dmy", "mdy") else ("dmy", "mdy")
    return [f'"{each} serial{"1904" if is_1904 else ""}"' for each in told]


def word_fits(shape: Shape, column: Column) -> tuple[WordFit, ...]:
    """Each distinct word of a column with the contract's word nearest to it. A cross beside other words for
    yes may mean no, and is asked."""
    found = [WordFit(word, *choice_for(column.name, column.kind, word)) for word in shape.words[:MAX_WORDS]]
    is_cross_open = any(each.choice == "yes" and each.word != "x" for each in found)
    return tuple(WordFit("x", "", 0.0) if is_cross_open and each.word == "x" else each for each in found)


def _ask_word(each: WordFit, column: Column) -> str:
    choices = ", ".join(column.choices or ("yes", "no"))
    near = f" ({each.choice}: {each.score:.2f})" if each.choice else ""
    return f"which of {choices} is {each.word[:60]!r}{near}? add it to values; till then such rows are rejected"


def _shown(shape: Shape) -> str:
    return ", ".join(repr(sample) for sample in shape.samples) or "no values"
