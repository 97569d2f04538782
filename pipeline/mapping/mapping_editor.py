"""A proposed mapping as a person edits it on a page: a row a heading, and the open questions as choices."""

from __future__ import annotations

import re
from collections.abc import Iterable
from collections.abc import Mapping as Rows
from dataclasses import dataclass, replace
from typing import Any, Literal

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from pipeline.mapping.confirmed_mapping import DATE_ORDERS, ColumnMap, Mapping, TableMap, needs_unit
from pipeline.mapping.foreign_units import EACH_CELL, units_of
from pipeline.mapping.heading_values import SURE_WORD
from pipeline.mapping.proposal import NotTaken, Proposal, ProposedColumn, ProposedTable

What = Literal["dates", "unit", "mark", "constant", "word", "column"]
HEADING, COLUMN, UNIT, DATES, CONSTANT = "heading", "column", "unit", "dates", "constant"
SURE, WORDS, SAMPLES = "sure", "words", "samples"
EDITABLE = (COLUMN, UNIT, DATES, CONSTANT)
_ORDERS = re.compile(r'"([\w ]+)"')
NONE = "-"
"""The answer that a heading is none of the columns that it may be, or a word none of the contract's."""

_SURE = ((0.9, "sure"), (0.7, "likely"), (0.0, "a guess"))


@dataclass(frozen=True, slots=True)
class Asked:
    """An open question: its `sentence`, the answers as (value, words), and the columns that it settles.

    `places` are (number of the table, column of the job log), of which the column is empty where it is asked; `word` is
    the firm's word or heading where one is asked. `options` are the columns that a heading may be, drafted.
    """

    what: What
    sentence: str
    choices: tuple[tuple[str, str], ...]
    places: tuple[tuple[int, str], ...]
    word: str = ""
    options: tuple[ColumnMap, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetTable:
    """One proposed table as rows to edit, each a dict of the keys heading, column, unit, dates, constant, sure,
    words, samples; and what the cells of `column` and `unit` may be. `options` are headings that are asked about,
    as the columns that they may be."""

    title: str
    proposed: TableMap
    rows: tuple[dict[str, str], ...]
    columns: tuple[str, ...]
    units: tuple[str, ...]
    options: tuple[ColumnMap, ...] = ()


@dataclass(frozen=True, slots=True)
class MappingSheet:
    """Everything that a person confirms: tables, questions with choices, and what else was noticed, as sentences."""

    tables: tuple[SheetTable, ...]
    questions: tuple[Asked, ...]
    notes: tuple[str, ...]
    not_taken: tuple[NotTaken, ...] = ()

    def confirmed(self, rows: Iterable[Iterable[Rows[str, Any]] | None], answers: Iterable[str | None]) -> Mapping:
        """The mapping as edited: the rows of each table (None leaves a table out), an answer to each question or None.

        An answer fills in only what a row leaves open. A question that neither settles stays open in the mapping.
        """
        open_still: list[str] = []
        both = zip(self.tables, rows, strict=True)
        tables = [None if given is None else _edited(table, given) for table, given in both]
        for asked, answer in zip(self.questions, answers, strict=True):
            if not answer and any(_is_open(tables[number], column, asked) for number, column in asked.places):
                open_still.append(asked.sentence)
            for number, column in asked.places if answer else ():
                table = tables[number]
                if table is not None:
                    tables[number] = _answered(table, column, asked, str(answer))
        kept = tuple(_same_days(table) for table in tables if table is not None and table.columns)
        return Mapping(kept, tuple(dict.fromkeys(open_still)))


def sheet_of(proposal: Proposal) -> MappingSheet:
    """The proposal as a sheet to edit."""
    tables = tuple(_sheet(table) for table in proposal.tables)
    asked = [question for number, table in enumerate(proposal.tables) for question in _asked(number, table)]
    return MappingSheet(tables, tuple(_joined(asked)), proposal.remarks(), proposal.not_taken)


def _sheet(table: ProposedTable) -> SheetTable:
    contract = JOB_LOG[table.mapped.table]
    by_heading = {mapped.heading: mapped for mapped in table.mapped.columns if mapped.heading}
    rows = [_row(each, by_heading.get(each.heading)) for each in table.columns]
    shown = {each.heading for each in table.columns}
    rest = [mapped for mapped in table.mapped.columns if not mapped.heading or mapped.heading not in shown]
    rows += [_bare(mapped) for mapped in rest]
    rows += [_bare(ColumnMap(name)) for name in table.missing]
    units = {name for column in contract.columns for name in units_of(column)}
    options = tuple(option.mapped for each in table.columns for option in each.options)
    title = f"{table.file} → {table.mapped.table}"
    return SheetTable(title, table.mapped, tuple(rows), contract.names, (*sorted(units), EACH_CELL), options)


def _row(proposed: ProposedColumn, mapped: ColumnMap | None) -> dict[str, str]:
    mapped = mapped or ColumnMap("", proposed.heading)
    sure = next(words for least, words in _SURE if proposed.score >= least) if mapped.column else "not used"
    words = ", ".join(f"{theirs} = {ours}" for theirs, ours in mapped.values)
    return {**_bare(mapped), SURE: sure, WORDS: words, SAMPLES: ", ".join(proposed.samples)}


def _bare(mapped: ColumnMap) -> dict[str, str]:
    """A row without samples: the same text for every row, a heading of another table, or a column still missing."""
    return {
        HEADING: mapped.heading,
        COLUMN: mapped.column,
        UNIT: mapped.unit,
        DATES: mapped.dates,
        CONSTANT: mapped.constant,
        SURE: "",
        WORDS: "",
        SAMPLES: "",
    }


def _asked(number: int, table: ProposedTable) -> list[Asked]:
    contract = JOB_LOG[table.mapped.table]
    by_heading = {mapped.heading: mapped for mapped in table.mapped.columns if mapped.heading}
    found: list[Asked] = []
    for each in table.columns:
        mapped = by_heading.get(each.heading)
        if mapped is not None and each.questions:
            column = contract.column(mapped.column)
            found += _of_column((number, mapped.column), table.mapped.source, column, mapped, each)
        elif each.options:
            found.append(_which_column(number, table.mapped.source, each))
    named = {option.mapped.column for each in table.columns for option in each.options}
    for name in table.missing:
        column = contract.column(name)
        if column.choices and name not in named:
            meaning = column.meaning[0].lower() + column.meaning[1:]
            sentence = f"No heading of {table.mapped.source} says {meaning}. What is it for every row?"
            found.append(Asked("constant", sentence, _same(column.choices), ((number, name),)))
    return found


def _which_column(number: int, source: str, proposed: ProposedColumn) -> Asked:
    options = tuple(option.mapped for option in proposed.options)
    samples = ", ".join(proposed.samples) or "no values"
    sentence = f"What is “{proposed.heading}” of {source} ({samples})?"
    choices = (*_same(option.column for option in options), (NONE, "none of these: leave it out"))
    return Asked("column", sentence, choices, ((number, ""),), proposed.heading, options)


def _of_column(
    place: tuple[int, str], source: str, column: Column, mapped: ColumnMap, proposed: ProposedColumn
) -> list[Asked]:
    shown = f"“{mapped.heading}” of {source} ({', '.join(proposed.samples)})"
    found = []
    if needs_unit(column, mapped) and not mapped.unit:
        units = proposed.units or (*units_of(column), EACH_CELL)
        found.append(Asked("unit", f"Which unit has {shown}?", _same(units), (place,)))
    if any(question.startswith("does the ") for question in proposed.questions):
        mark = "," if mapped.decimal == "." else "."
        marks = ((f"decimal {mark}", "before decimals"), (f"thousands {mark}", "between thousands"))
        name = "comma" if mark == "," else "point"
        found.append(Asked("mark", f"Where does the {name} stand in {shown}?", marks, (place,)))
    if column.kind in ("date", "time") and not mapped.dates:
        orders = {order for question in proposed.questions for order in _ORDERS.findall(question)}
        found += _order_asked(place, source, tuple(order for order in DATE_ORDERS if order in orders))
    known = {theirs for theirs, _ in mapped.values}
    unsure = [each.word for each in proposed.words if each.score < SURE_WORD and each.word not in known]
    choices = (*_same(column.choices or ("yes", "no")), (NONE, "none of these: reject such rows"))
    found += [Asked("word", f"What does “{w[:60]}” mean in {shown}?", choices, (place,), w) for w in unsure]
    return found


_ORDER_WORDS = {
    "dmy": "day first",
    "mdy": "month first",
    "ymd": "year first",
    "serial": "from 1900",
    "serial1904": "from 1904",
    "dmy serial": "day first, numbers from 1900",
    "mdy serial": "month first, numbers from 1900",
    "dmy serial1904": "day first, numbers from 1904",
    "mdy serial1904": "month first, numbers from 1904",
}


def _order_asked(place: tuple[int, str], source: str, orders: tuple[str, ...]) -> list[Asked]:
    if not orders:
        return []
    mixed = any(" " in order for order in orders)
    what = "count the days from 1900 or from 1904" if "serial" in orders else "put the day or the month first"
    if mixed:
        what = "put the day or the month first? Some are numbers, of which programs swap day and month: look some up"
        return [Asked("dates", f"Do the dates of {source} {what}.", _orders_said(orders), (place,))]
    return [Asked("dates", f"Do the dates of {source} {what}?", _orders_said(orders), (place,))]


def _orders_said(orders: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((order, _ORDER_WORDS[order]) for order in orders)


def _joined(asked: Iterable[Asked]) -> list[Asked]:
    """Questions with the same sentence asked once, for all their places."""
    found: dict[tuple[str, str], Asked] = {}
    for each in asked:
        key = (each.sentence, each.word)
        found[key] = replace(found[key], places=(*found[key].places, *each.places)) if key in found else each
    return list(found.values())


def _same(choices: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((choice, choice.replace("_", " ")) for choice in choices)


def _edited(table: SheetTable, rows: Iterable[Rows[str, Any]]) -> TableMap:
    """The table with the edited cells; whatever the sheet does not show of a column stays while the column stays."""
    before = {(mapped.heading, mapped.column): mapped for mapped in (*table.options, *table.proposed.columns)}
    columns = []
    for row in rows:
        cells = {name: str(row.get(name) or "").strip() for name in (HEADING, *EDITABLE)}
        constant = "" if cells[HEADING] else cells[CONSTANT]
        if not cells[COLUMN] or not (cells[HEADING] or constant):
            continue
        mapped = before.get((cells[HEADING], cells[COLUMN]), ColumnMap(cells[COLUMN], cells[HEADING]))
        # a row of a heading that was asked about shows no unit yet: what its heading names stands in the option
        read_off = mapped if mapped in table.options else ColumnMap("")
        unit, dates = cells[UNIT] or read_off.unit, cells[DATES] or read_off.dates
        columns.append(replace(mapped, unit=unit, dates=dates, constant=constant))
    return _in_order(table.proposed, columns)


def _in_order(table: TableMap, columns: Iterable[ColumnMap]) -> TableMap:
    """The table with these columns in the order of the contract."""
    order = {name: place for place, name in enumerate(JOB_LOG[table.table].names)}
    return replace(table, columns=tuple(sorted(columns, key=lambda mapped: order.get(mapped.column, len(order)))))


def _same_days(table: TableMap) -> TableMap:
    """A clock time whose day stands under a heading that another column reads is read in that column's order."""
    orders = {heading: mapped.dates for mapped in table.columns for heading in mapped.headings if mapped.dates}
    columns = [
        replace(mapped, dates=orders[mapped.date_heading])
        if not mapped.dates and mapped.date_heading in orders
        else mapped
        for mapped in table.columns
    ]
    return replace(table, columns=tuple(columns))


def _is_open(table: TableMap | None, name: str, asked: Asked) -> bool:
    """Whether a question that was not answered is still one: its heading or column is there and not settled by hand.
    What else is open is found when the mapping is used."""
    if table is None or asked.what not in ("column", "word", "mark"):
        return False
    if asked.what == "column":
        return all(mapped.heading != asked.word for mapped in table.columns)
    return any(mapped.column == name for mapped in table.columns)


def _answered(table: TableMap, name: str, asked: Asked, answer: str) -> TableMap:
    if answer == NONE:
        return table
    if asked.what == "column":
        is_given = any(mapped.column == answer or mapped.heading == asked.word for mapped in table.columns)
        chosen = [option for option in asked.options if option.column == answer]
        return table if is_given else _in_order(table, (*table.columns, *chosen))
    if asked.what == "constant":
        if any(mapped.column == name for mapped in table.columns):
            return table
        return _in_order(table, (*table.columns, ColumnMap(name, constant=answer)))
    columns = [_settled(mapped, asked, answer) if mapped.column == name else mapped for mapped in table.columns]
    return replace(table, columns=tuple(columns))


def _settled(mapped: ColumnMap, asked: Asked, answer: str) -> ColumnMap:
    if asked.what == "unit":
        return mapped if mapped.unit else replace(mapped, unit=answer)
    if asked.what == "dates":
        return mapped if mapped.dates else replace(mapped, dates=answer)
    if asked.what == "word":
        return replace(mapped, values=(*mapped.values, (asked.word, answer)))
    role, mark = answer.split(" ")
    if role == "decimal":
        return replace(mapped, decimal=mark, thousands="")
    return replace(mapped, decimal="." if mark == "," else ",", thousands=mark)
