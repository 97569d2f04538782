"""Run one SQL file on a few rows typed into a test: rows in, rows out, in memory and without the intake.

Rows are written as a table of text: a heading, then a line a row, cells between bars. `-` is an empty cell; `04 10:00`
is 10:00 on 4 March 2025. Columns that a test does not name are empty. What comes out is written the same way, numbers
to nine digits.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from functools import cache

import duckdb

from pipeline import build
from pipeline.checks.check_batch import POLARS_TYPES, SOURCE_SCHEMA
from pipeline.checks.check_rows import FAULT_SCHEMA
from pipeline.checks.spans import SCHEMA as SPAN_SCHEMA
from pipeline.contract import JOB_LOG
from pipeline.contract.firm import Firm
from pipeline.store import book

Row = tuple[str, ...]
_SHORT_DAY = re.compile(r"(?<!\S)(\d\d)(?= \d\d:\d\d|$)")
_MOMENTS = ("DATE", "TIMESTAMP")
_IN_TYPES = {"String": "VARCHAR", "Int64": "BIGINT", "Float64": "DOUBLE", "Boolean": "BOOLEAN", "Date": "DATE"}

_MARKS = {"batch_id": "VARCHAR", "batch_no": "BIGINT"}


def _types(schema: Mapping[str, object]) -> dict[str, str]:
    return {name: _IN_TYPES.get(str(kind), "TIMESTAMP") for name, kind in schema.items()}


def _given() -> dict[str, dict[str, str]]:
    """Tables that are there before the first SQL file runs, but for the trade tables."""
    faults = {"source_no": "BIGINT", **_types(FAULT_SCHEMA), **_MARKS}
    logs = {name: {c.name: POLARS_TYPES[c.kind] for c in table.columns} for name, table in JOB_LOG.items()}
    place = {"line": "BIGINT", "source_no": "BIGINT", "batch_no": "BIGINT"}
    return {
        **{"checked_" + name: {**_types(columns), **place} for name, columns in logs.items()},
        "checked_spans": {**_types(SPAN_SCHEMA), "batch_no": "BIGINT"},
        "checked_sources": _types(SOURCE_SCHEMA),
        "checked_rejects": faults,
        "checked_warnings": faults,
        "kept_wet_dry_pair": {"firm_id": "VARCHAR", "wet_dry_ratio": "DOUBLE"},
        "book_settings": {"wet_dry_ratio": "DOUBLE", "other_wet_dry_ratio": "DOUBLE"},
    }


_known: dict[str, dict[str, str]] = {}


@cache
def database() -> duckdb.DuckDBPyConnection:
    """One database in memory for all tests: opening one costs more than a test does. Nothing stays in it."""
    return book.open_memory()


@contextmanager
def rolled_back() -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection whose every change is undone at the end."""
    with database().cursor() as connection:
        connection.execute("begin")
        try:
            yield connection
        finally:
            connection.execute("rollback")


def schemas() -> dict[str, dict[str, str]]:
    """Column types of every table of a build, those that live only while it is made among them; found once."""
    if not _known:
        _known.update(_found_schemas())
    return _known


def _found_schemas() -> dict[str, dict[str, str]]:
    found = _given()
    with book.open_memory() as connection:
        for name, columns in found.items():
            if name != "book_settings":
                _create(connection, name, columns)
        build.attach_settings(connection, Firm())
        build.run_steps(connection, build.STEPS)
        query = "select table_name, column_name, data_type from duckdb_columns() where not internal"
        for table, column, kind in connection.execute(query + " order by table_oid, column_index").fetchall():
            if not table.startswith("checked_"):
                found.setdefault(table, {})[column] = kind
        for name in build.REFERENCES:
            described = connection.execute("describe ref_" + name).fetchall()
            found["ref_" + name] = {column: kind for column, kind, *_ in described}
    return found


def _create(connection: duckdb.DuckDBPyConnection, name: str, columns: Mapping[str, str]) -> None:
    connection.execute("create table " + name + " (" + ", ".join(f"{c} {kind}" for c, kind in columns.items()) + ")")


def cells_of(text: str) -> list[Row]:
    """Heading and rows of a table of text."""
    return [tuple(cell.strip() for cell in line.split("|")) for line in text.strip().splitlines()]


def _put(connection: duckdb.DuckDBPyConnection, name: str, text: str) -> None:
    head, *rows = cells_of(text)
    kinds = [schemas()[name][column] for column in head]
    values = ", ".join("(" + ", ".join(map(_literal, row, kinds)) + ")" for row in rows)
    if rows:
        assert all(len(row) == len(head) for row in rows), f"{name}: {rows}"
        connection.execute("insert into " + name + " (" + ", ".join(head) + ") values " + values)


def _literal(cell: str, kind: str) -> str:
    if cell == "-":
        return "null"
    if kind in _MOMENTS:
        cell = _SHORT_DAY.sub(r"2025-03-\1", cell)
    return "cast('" + cell.replace("'", "''") + "' as " + kind + ")"


def shown(value: object) -> str:
    """A cell as tests write it."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.9g}"
    if isinstance(value, date):
        text = value.isoformat(sep=" ") if isinstance(value, datetime) else value.isoformat()
        return re.sub(r"(\d\d:\d\d):00$", r"\1", text).removeprefix("2025-03-")
    return str(value)


def _read(text: str) -> list[str]:
    """The tables that a SQL file says it reads."""
    found = re.search(r"^-- reads : (.+)$", text, re.MULTILINE)
    assert found is not None
    return found[1].split(", ")


def rows_of(
    step: str, columns: Row, parameters: Mapping[str, object] | None = None, first: tuple[str, ...] = (), **given: str
) -> list[Row]:
    """What one SQL file makes of the given rows, those columns, in the order in which it puts them; `first` are the
    files that make what it reads."""
    before = [book.sql_text(each) for each in first]
    text = book.sql_text(step)
    made = {each.rpartition("/")[2] for each in first}
    with rolled_back() as connection:
        for name in dict.fromkeys(name for each in (*before, text) for name in _read(each)):
            if name not in made:
                _create(connection, name, schemas()[name])
        for name, rows in given.items():
            _put(connection, name, rows)
        for each in before:
            connection.execute(each.strip())
        answer = connection.execute(text.strip(), dict(parameters) if parameters else None)
        if not step.startswith("reads/"):
            answer = connection.execute("from " + step.rpartition("/")[2])
        names = [column[0] for column in answer.description]
        places = [names.index(column) for column in columns]
        return [tuple(shown(row[place]) for place in places) for row in answer.fetchall()]


def check(
    step: str,
    expected: str,
    *,
    ordered: bool = False,
    parameters: Mapping[str, object] | None = None,
    first: tuple[str, ...] = (),
    **given: str,
) -> None:
    """The rows that a SQL file makes are those expected; with `ordered` in that order."""
    columns, *rows = cells_of(expected)
    found = rows_of(step, columns, parameters, first, **given)
    if not ordered:
        found, rows = sorted(found), sorted(rows)
    assert found == rows, "\n".join(" | ".join(row) for row in found)
