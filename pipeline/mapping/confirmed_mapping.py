"""A firm's own headings → the job log, as a person confirmed it: which heading is which column, in what unit.

A mapping says nothing by silence: a column with a unit names the unit of its heading, a date that can be
read two ways names its order. What is left open is asked before a row is read (`open_questions`).
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from pipeline.mapping.foreign_units import EACH_CELL, units_of
from pipeline.privacy.private_columns import private_heading

NUMBER_PLACE = "{n}"
"""Stands for the number in headings that repeat: `catch {n} (kg)`."""

DATE_ORDERS = (
    "ymd",
    "dmy",
    "mdy",
    "serial",
    "serial1904",
    "dmy serial",
    "mdy serial",
    "dmy serial1904",
    "mdy serial1904",
)
"""Orders of day, month and year; `serial` for a spreadsheet's day numbers, behind an order where both stand."""
DECIMALS = (".", ",")
THOUSANDS = ("", ",", ".", " ", "'")


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """One column of the contract and where it comes from: a heading, or the same text for every row.

    `unit` is the unit of the heading's numbers (`each cell` where the cells name it), `decimal` and
    `thousands` the marks in them; `dates` the order of day, month and year (`serial` for a spreadsheet's
    numbers); `date_heading` the heading that holds the day of a clock time; `values` the firm's words,
    in small letters, with the contract's.
    """

    column: str
    heading: str = ""
    constant: str = ""
    unit: str = ""
    decimal: str = "."
    thousands: str = ""
    dates: str = ""
    date_heading: str = ""
    values: tuple[tuple[str, str], ...] = ()

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings it reads."""
        return tuple(heading for heading in (self.heading, self.date_heading) if heading)


@dataclass(frozen=True, slots=True)
class TableMap:
    """One table of the job log out of one source, the name or stem of a file or sheet.

    With `numbers`, every row of the source is unfolded: once for each number, which takes the place of
    `{n}` in headings and constants; a number whose headings are all empty in a row gives no row.
    `heading_line` is the line of the source that the headings stand on, 0 where the reader is to find it.
    """

    source: str
    table: str
    columns: tuple[ColumnMap, ...]
    numbers: tuple[int, ...] = ()
    heading_line: int = 0

    @property
    def headings(self) -> tuple[str, ...]:
        """Every heading it reads, once, the numbered ones with `{n}`."""
        return tuple(dict.fromkeys(heading for column in self.columns for heading in column.headings))


@dataclass(frozen=True, slots=True)
class Mapping:
    """All tables that a firm's files give. `open` are questions that a person was asked and has not answered or put
    aside, a sentence each: nothing is read by a mapping that has any."""

    tables: tuple[TableMap, ...]
    open: tuple[str, ...] = ()


def numbered(text: str, number: int | None) -> str:
    """A heading or constant with the number in its place."""
    return text if number is None else text.replace(NUMBER_PLACE, str(number))


def needs_unit(column: Column, mapped: ColumnMap) -> bool:
    """Whether the unit of a heading must be said: the contract's own headings carry it in their name."""
    return bool(mapped.heading) and mapped.heading != column.name and bool(units_of(column))


def open_questions(mapping: Mapping) -> tuple[str, ...]:
    """What a person still has to say, a sentence each; dates are asked when the cells are seen."""
    sentences = []
    for table in mapping.tables:
        contract = JOB_LOG[table.table]
        for mapped in table.columns:
            column = contract.column(mapped.column)
            if needs_unit(column, mapped) and not mapped.unit:
                choices = ", ".join([*units_of(column), EACH_CELL])
                sentences.append(f"which unit has {mapped.heading!r} of {table.source} ({choices})?")
        given = {mapped.column for mapped in table.columns}
        sentences += [
            f"where does {column.name!r} of {table.table} come from in {table.source}?"
            for column in map(contract.column, contract.missing(given))
        ]
    return tuple(sentences)


def mapping_faults(mapping: Mapping) -> tuple[str, ...]:
    """Everything that cannot be meant, a clause each: unknown names, units, orders, words, things said twice."""
    return tuple(fault for table in mapping.tables for fault in _table_faults(table))


def _table_faults(table: TableMap) -> list[str]:
    where = f"[{table.source} to {table.table}]"
    if table.table not in JOB_LOG:
        return [f"{where} there is no table {table.table!r} (there are {', '.join(JOB_LOG)})"]
    faults = [] if table.source.strip() else [f"{where} names no source"]
    names = [mapped.column for mapped in table.columns]
    faults += [f"{where} {name!r} is mapped more than once" for name in dict.fromkeys(names) if names.count(name) > 1]
    if len(set(table.numbers)) < len(table.numbers):
        faults.append(f"{where} a number stands twice in numbers")
    places = [NUMBER_PLACE in text for mapped in table.columns for text in (*mapped.headings, mapped.constant)]
    if any(places) != bool(table.numbers):
        faults.append(f"{where} {NUMBER_PLACE} and numbers go together: one of them is missing")
    for mapped in table.columns:
        if mapped.column not in JOB_LOG[table.table].names:
            faults.append(f"{where} {mapped.column!r} is no column of {table.table}")
        else:
            column = JOB_LOG[table.table].column(mapped.column)
            faults += [f"{where} {mapped.column}: {fault}" for fault in _column_faults(column, mapped)]
    return faults


def _column_faults(column: Column, mapped: ColumnMap) -> list[str]:
    faults = []
    if bool(mapped.heading) == bool(mapped.constant):
        faults.append("it needs a heading or a constant, and not both")
    allowed = (*units_of(column), EACH_CELL) if units_of(column) else ()
    if mapped.unit and mapped.unit not in allowed:
        faults.append(f"unit {mapped.unit!r} is not one of {', '.join(allowed) or 'any: this column has no unit'}")
    if mapped.heading and private_heading(mapped.heading) and mapped.column != "postcode_district":
        faults.append(f"{mapped.heading!r} looks private and is never loaded")
    if mapped.decimal not in DECIMALS:
        faults.append(f"decimal {mapped.decimal!r} is neither a point nor a comma")
    if mapped.thousands not in THOUSANDS or mapped.thousands == mapped.decimal:
        faults.append(f"thousands {mapped.thousands!r} cannot be a mark between thousands here")
    if mapped.dates and mapped.dates not in DATE_ORDERS:
        faults.append(f"dates {mapped.dates!r} is not one of {', '.join(DATE_ORDERS)}")
    if mapped.date_heading and column.kind != "time":
        faults.append("date_heading is for columns that hold a moment")
    words = column.choices if column.kind == "choice" else ("yes", "no") if column.kind == "yes_no" else ()
    if mapped.values and not words:
        faults.append("it takes no list of words")
    faults += [
        f"{ours!r} for {theirs!r} is not one of {', '.join(words)}"
        for theirs, ours in mapped.values
        if words and ours and ours not in words
    ]
    return faults
