"""Parquet and JSON lines → text tables: typed values in the job log's own spelling."""

from __future__ import annotations

import io
import json
from typing import Any, BinaryIO

import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.readers.archives import Content
from pipeline.readers.encoding import decoded
from pipeline.readers.limits import check_cells, check_columns, check_shape, check_sheet_characters, unique_headings
from pipeline.readers.text_tables import LINE, BrokenRow, TextTable, without_blank_rows
from pipeline.readers.xlsx import refused

__all__ = ["as_text", "check_shape", "read_json_lines", "read_parquet"]

_DATED = "%Y-%m-%dT%H:%M:%S"


def read_parquet(content: Content, name: str) -> TextTable:
    """A Parquet file as text; the first record has line 2, as if the headings were line 1."""
    import pyarrow.parquet as arrow_parquet

    size = len(content) if isinstance(content, bytes) else content.stat().st_size
    # Arrow's reader raises on damaged files where the one of polars panics, printing to the terminal
    with refused(name, "PARQUET table"), _source(content) as source, arrow_parquet.ParquetFile(source) as file:
        check_shape(file.metadata.num_rows, file.metadata.num_columns, size, name)
        table = file.read()
        table.validate(full=True)
        frame = pl.from_arrow(table)
        assert isinstance(frame, pl.DataFrame)
        text = [column for column, dtype in frame.schema.items() if dtype == pl.String]
        if text and frame.height:
            check_sheet_characters(name, sum(frame.select(pl.col(text).str.len_bytes().sum()).row(0)))
        return TextTable(as_text(frame, name))


def _source(content: Content) -> BinaryIO:
    return io.BytesIO(content) if isinstance(content, bytes) else content.open("rb")


def as_text(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    """Every column as text in the job log's own spelling, every record with its line (heading = line 1)."""
    headings = unique_headings(name, frame.columns)
    expressions = []
    for (column, dtype), heading in zip(frame.schema.items(), headings, strict=True):
        cell = pl.col(column)
        if isinstance(dtype, pl.Datetime):
            # fractions of a second matter as a key of readings: shown where a value has them
            whole = cell.dt.microsecond() == 0
            text = pl.when(whole).then(cell.dt.to_string(_DATED)).otherwise(cell.dt.to_string(f"{_DATED}%.6f"))
        elif dtype == pl.Boolean:
            text = pl.when(cell).then(pl.lit("yes")).when(~cell).then(pl.lit("no"))
        elif dtype == pl.Binary or dtype.is_nested():
            raise BadInput(f"{name} holds more than one value in a cell of {heading!r}; give each its own column.")
        else:
            text = cell.cast(pl.String)
        expressions.append(text.str.strip_chars().replace("", None).alias(heading))
    text_frame = frame.select(expressions)
    check_cells(name, text_frame)
    text_frame = text_frame.with_columns(pl.int_range(2, 2 + pl.len(), dtype=pl.Int64).alias(LINE))
    return without_blank_rows(text_frame)


def read_json_lines(data: bytes, name: str) -> TextTable:
    """A JSON object a line; a line that is none, or holds more than single values, is a broken record."""
    text = decoded(data, name)
    rows: list[tuple[int, dict[str, str | None]]] = []
    broken = list(text.broken)
    headings: dict[str, None] = {}
    for line, raw in enumerate(text.data.decode("utf-8").split("\n"), start=1):
        if not raw.strip():
            continue
        try:
            record = _record(raw)
        except (ValueError, RecursionError) as error:
            broken.append(BrokenRow(line, raw[:2000], f"the line is no JSON object of single values: {error}"[:200]))
            continue
        headings |= dict.fromkeys(record)
        check_columns(name, len(headings))
        rows.append((line, record))
    if not headings and not broken:
        raise BadInput(f"{name} is empty: each line must hold a JSON object.")
    check_shape(len(rows), len(headings), len(data), name)
    names = unique_headings(name, list(headings)) if headings else []
    columns = {new: [record.get(old) for _, record in rows] for old, new in zip(headings, names, strict=True)}
    frame = pl.DataFrame(columns, schema=dict.fromkeys(names, pl.String)).with_columns(
        pl.Series(LINE, [line for line, _ in rows], pl.Int64)
    )
    check_cells(name, frame)
    ordered = tuple(sorted(broken, key=lambda row: row.line))
    return TextTable(without_blank_rows(frame), ordered, text.findings)


def _record(raw: str) -> dict[str, str | None]:
    record = json.loads(raw, parse_int=str, parse_float=str, parse_constant=str, object_pairs_hook=_each_once)
    if not isinstance(record, dict):
        raise ValueError("it holds no object")
    return {heading: _cell(heading, value) for heading, value in record.items()}


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    record = dict(pairs)
    if len(record) < len(pairs):
        raise ValueError("a heading stands twice")
    return record


def _cell(heading: str, value: object) -> str | None:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or isinstance(value, str):
        (value or "").encode()  # half a character pair is no text: UnicodeEncodeError is a ValueError
        return (value or "").strip() or None
    raise ValueError(f"{heading[:40]!r} holds more than one value")
