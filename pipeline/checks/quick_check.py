"""The quick way through a piece of clean CSV: typed in one go, judged by extremes.

It only ever says yes. A piece with anything that breaks a rule, or that it cannot be sure of, is left to
the row-by-row checks, which give the same rows for a clean piece (a test holds the two together).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import polars as pl

from pipeline.checks.row_rules import between_rules, between_warnings
from pipeline.contract import DEFAULT_FIRM_ID
from pipeline.contract.columns import Column, Table
from pipeline.contract.controls import CLASS
from pipeline.privacy.private_columns import ID_COLUMNS
from pipeline.privacy.private_text import holds_private
from pipeline.readers.csv_chunks import Piece, count_bytes
from pipeline.readers.files import LINE

_YES_NO = {"yes": True, "no": False, "true": True, "false": False, "y": True, "n": False, "1": True, "0": False}
_READ_AS: dict[str, pl.DataType] = {"integer": pl.Int64(), "number": pl.Float64()}
_DOUBTFUL = (b'"', b"@", b"\t", b"\x00")
_LOOSE_SPACES = (b" ,", b", ", b" \n", b"\n ", b" \r")
_TIME_FORMATS = ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S")


def quick_rows(piece: Piece, headings: tuple[str, ...], table: Table, today: date) -> pl.DataFrame | None:
    """The contract's columns, typed, with `line`; None when the piece must be judged row by row.

    `today` is the day of receipt, after which nothing can have happened.
    """
    if not _is_plain(piece, len(headings)):
        return None
    columns = {column.name: column for column in table.columns}
    kinds = {name: columns[name].kind if name in columns else "text" for name in headings}
    schema = {name: _READ_AS.get(kind, pl.String()) for name, kind in kinds.items()}
    try:
        raw = pl.read_csv(piece.data, has_header=False, schema=schema, quote_char=None)  # it holds none
        frame = raw.select(_typed(column, raw) for column in table.columns)
    except (pl.exceptions.PolarsError, ValueError):
        return None
    if raw.height != piece.lines or not _keeps_the_rules(raw, frame, table.columns):
        return None
    if holds_private(frame) or _breaks_between(frame, table, today):
        return None
    if piece.numbers is not None:
        return frame.with_columns(pl.Series(LINE, piece.numbers, pl.Int64))
    lines = pl.int_range(piece.first_line, piece.first_line + piece.lines, dtype=pl.Int64)
    return frame.with_columns(lines.alias(LINE))


def quick_typed(raw: pl.DataFrame, first_line: int, table: Table, today: date) -> pl.DataFrame | None:
    """The same for rows that come typed, from Parquet: None unless every column holds what the contract wants."""
    expressions = []
    for column in table.columns:
        kind = raw.schema.get(column.name)
        if kind is not None and kind != pl.Null and not _fits(kind, column):
            return None
        absent = kind is None or kind == pl.Null
        value = pl.lit(None, pl.String) if absent else pl.col(column.name)
        value = value.str.to_lowercase() if column.kind == "choice" else value.cast(_target(column))
        expressions.append((value.fill_null(DEFAULT_FIRM_ID) if column.name == "firm_id" else value).alias(column.name))
    texts = [column.name for column in table.columns if raw.schema.get(column.name) == pl.String]
    loose = [(pl.col(n).str.strip_chars() != pl.col(n)).any() | (pl.col(n) == "").any() for n in texts]
    loose += [pl.col(n).str.contains("@", literal=True).any() for n in texts if n in ID_COLUMNS]
    if texts and any(raw.select(check.alias(str(i)) for i, check in enumerate(loose)).row(0)):
        return None
    frame = raw.select(expressions) if raw.width else raw
    if not _keeps_the_rules(raw, frame, table.columns):
        return None
    if holds_private(frame) or _breaks_between(frame, table, today):
        return None
    return frame.with_columns(pl.int_range(first_line, first_line + frame.height, dtype=pl.Int64).alias(LINE))


def _fits(kind: pl.DataType, column: Column) -> bool:
    match column.kind:
        case "integer":
            return kind.is_integer()
        case "number":
            return kind.is_numeric()
        case "yes_no":
            return kind == pl.Boolean
        case "date":
            return kind == pl.Date
        case "time":
            return isinstance(kind, pl.Datetime) and kind.time_zone is None
    return kind == pl.String


def _is_plain(piece: Piece, fields: int) -> bool:
    """No quotes, no spaces to trim, and every line with exactly as many fields as the heading."""
    data = piece.data
    if fields < 2 or data.startswith(b" ") or data.endswith(b" ") or any(mark in data for mark in _DOUBTFUL):
        return False
    if b" " in data and any(mark in data for mark in _LOOSE_SPACES):  # one byte is looked for much quicker than two
        return False
    return count_bytes(data, b",") == piece.lines * (fields - 1)


def _typed(column: Column, raw: pl.DataFrame) -> pl.Expr:
    if column.name not in raw.columns:
        value: pl.Expr = pl.lit(DEFAULT_FIRM_ID if column.name == "firm_id" else None, pl.String)
        return value.cast(_target(column)).alias(column.name)
    value = pl.col(column.name)
    match column.kind:
        case "choice":
            value = value.str.to_lowercase()
        case "yes_no":
            value = value.str.to_lowercase().replace_strict(_YES_NO, default=None, return_dtype=pl.Boolean)
        case "date":
            value = value.str.to_date("%Y-%m-%d", strict=True)
        case "time":
            value = value.str.to_datetime(_time_format(raw[column.name]), strict=True, time_unit="us")
    return value.fill_null(DEFAULT_FIRM_ID) if column.name == "firm_id" else value


def _time_format(texts: pl.Series) -> str:
    """The format of the first time; a column that mixes formats is left to the row-by-row checks."""
    first = texts.drop_nulls().head(1).to_list()
    return _TIME_FORMATS[bool(first) and len(first[0]) > len("2031-03-04T09:15")]


def _target(column: Column) -> pl.DataType:
    named: dict[str, pl.DataType] = {"yes_no": pl.Boolean(), "date": pl.Date(), "time": pl.Datetime("us"), **_READ_AS}
    return named.get(column.kind, pl.String())


def _keeps_the_rules(raw: pl.DataFrame, frame: pl.DataFrame, columns: Iterable[Column]) -> bool:
    checks = [check.alias(str(i)) for i, check in enumerate(_checks(raw.columns, columns))]
    both = frame.hstack([raw[name].alias(f"raw:{name}") for name in raw.columns if name in frame.columns])
    return all(both.select(checks).row(0)) if frame.height else True


def _breaks_between(frame: pl.DataFrame, table: Table, today: date) -> bool:
    """A rule between columns is broken, or a warning is due."""
    rules = [*between_rules(table.name, today, ""), *between_warnings(table.name, today, "")]
    checks = [rule.broken.fill_null(value=False).any().alias(str(i)) for i, rule in enumerate(rules)]
    return bool(checks) and any(frame.select(checks).row(0))


def _checks(there: list[str], columns: Iterable[Column]) -> Iterable[pl.Expr]:
    """One yes/no a rule, over the whole piece: extremes stand in for every row."""
    for column in columns:
        value = pl.col(column.name)
        if column.required:
            yield value.null_count() == 0
        if column.name in there:
            yield from _is_of_its_kind(column, value)
            yield from _is_in_range(column, value)


def _is_of_its_kind(column: Column, value: pl.Expr) -> Iterable[pl.Expr]:
    if column.name in ID_COLUMNS:
        yield ~value.str.contains(CLASS).any()
    if column.kind == "yes_no":
        yield value.null_count() == pl.col(f"raw:{column.name}").null_count()
    if column.kind == "number":
        yield value.is_finite().all()
    if column.choices:
        yield value.drop_nulls().unique().is_in(list(column.choices)).all()


def _is_in_range(column: Column, value: pl.Expr) -> Iterable[pl.Expr]:
    for low in (column.low, column.warn_low):
        if low is not None:
            yield (value.min() >= low).fill_null(value=True)
    for high in (column.high, column.warn_high):
        if high is not None:
            yield (value.max() <= high).fill_null(value=True)
