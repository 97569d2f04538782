"""CSV and TSV → text table: encoding, delimiter, quotation, then the columns; every record accounted for."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.readers.encoding import decoded
from pipeline.readers.limits import (
    MAX_CELL_CHARACTERS,
    check_cells,
    check_shape,
    heading_row,
    title_finding,
    unique_headings,
)
from pipeline.readers.quotation_marks import scan_record, without_unclosed
from pipeline.readers.text_tables import LINE, BrokenRow, TextTable, without_blank_rows

DELIMITERS = (",", ";", "\t", "|")
_SNIFFED_LINES = 50
_TITLE_ROWS = 10
_ALIKE = 0.8
_DECLARED = re.compile(rb"sep=([,;\t|])[ ]*\n", re.IGNORECASE)
_BLOCK_BYTES = 1 << 20
_LARGEST_BLOCK = 2**31 - 2


@dataclass(frozen=True, slots=True)
class Opening:
    """How a delimited text begins: delimiter, headings, the byte and line after which records start."""

    delimiter: str
    headings: tuple[str, ...]
    start: int
    lines: int
    is_below_title: bool


def read_delimited(data: bytes, name: str, heading_line: int = 0) -> TextTable:
    """Read the bytes of a CSV or TSV file, shown as `name`; BadInput in a sentence when it is no table.

    `heading_line` is the line that a person says the headings stand on; 0 to find it.
    """
    text = decoded(data, name)
    opening = read_opening(text.data, name, heading_line)
    check_shape(text.data.count(b"\n", opening.start) + 1, len(opening.headings), len(data), name)
    body, unclosed = without_unclosed(text.data, opening.start, opening.delimiter, len(opening.headings))
    spoiled = [
        *(row for row in text.broken if row.line > opening.lines),
        *(BrokenRow(row.line + opening.lines, row.text, row.reason) for row in unclosed),
    ]
    table = _records(body, opening, name, spoiled)
    check_cells(name, table.frame)
    titles = (title_finding(name, opening.lines),) if opening.is_below_title else ()
    return TextTable(table.frame, table.broken, (*text.findings, *titles))


def read_opening(data: bytes, name: str, heading_line: int = 0) -> Opening:
    """Delimiter and headings of UTF-8 text with plain line ends. An Excel line `sep=;` above them is heeded."""
    if heading_line:
        return _told_opening(data, name, heading_line)
    declared = _DECLARED.match(data)
    skipped = declared.end() if declared else 0
    delimiter = declared[1].decode() if declared else _delimiter(data)
    rows: list[list[str]] = []
    ends: list[int] = []
    for end in _record_ends(data, skipped, ord(delimiter)):
        rows.append(_split(data[(ends[-1] + 1 if ends else skipped) : end].decode("utf-8", "replace"), delimiter))
        ends.append(end)
        if len(rows) == _TITLE_ROWS or sum(bool(cell.strip()) for cell in rows[-1]) > 1:
            break
    first = min(heading_row(rows), len(rows) - 1)
    headings = unique_headings(name, rows[first] if rows else [])
    end = ends[first]
    lines = data.count(b"\n", 0, end) + 1
    return Opening(delimiter, tuple(headings), min(end + 1, len(data)), lines, is_below_title=first > 0)


def _told_opening(data: bytes, name: str, heading_line: int) -> Opening:
    """The opening where a person said on which line the headings stand; the delimiter is told from there on."""
    start = 0
    for _ in range(heading_line - 1):
        start = data.find(b"\n", start) + 1
        if not start:
            raise BadInput(f"{name} has no line {heading_line}, where its headings are said to stand.")
    delimiter = _delimiter(data[start:])
    end = next(_record_ends(data, start, ord(delimiter)), start)
    headings = unique_headings(name, _split(data[start:end].decode("utf-8", "replace"), delimiter))
    lines = data.count(b"\n", 0, end) + 1
    return Opening(delimiter, tuple(headings), min(end + 1, len(data)), lines, is_below_title=heading_line > 1)


def _record_ends(data: bytes, position: int, mark: int) -> Iterator[int]:
    """Where each record ends from `position` on; a quotation mark that does not close ends its line."""
    while position < len(data):
        record = scan_record(data, position, mark)
        end = record.end
        if record.is_open:
            end = data.find(b"\n", position)
            end = len(data) if end < 0 else end
        yield end
        position = end + 1


def _split(line: str, delimiter: str) -> list[str]:
    before = csv.field_size_limit(16 * MAX_CELL_CHARACTERS)
    try:
        return next(csv.reader(io.StringIO(line, newline=""), delimiter=delimiter), [])
    except csv.Error as error:
        raise BadInput(f"The heading line cannot be split into columns: {error}.") from error
    finally:
        csv.field_size_limit(before)


def _delimiter(data: bytes) -> str:
    """The delimiter that splits heading and first records alike.

    Where several do, the later in DELIMITERS: commas stand in the numbers of a file with semicolons, but
    seldom the other way round.
    """
    agreeing: dict[str, float] = {}
    for delimiter in DELIMITERS:
        heading, *records = _field_counts(data, ord(delimiter))
        if heading > 1:
            share = sum(count == heading for count in records) / len(records) if records else 0.0
            agreeing[delimiter] = share if records else heading / 1e6
    alike = [delimiter for delimiter, share in agreeing.items() if share >= _ALIKE]
    if alike:
        return alike[-1]
    return max(agreeing, key=lambda each: agreeing[each]) if agreeing else ","


def _field_counts(data: bytes, mark: int) -> list[int]:
    """Fields of the heading and of the first records that are not blank; an unclosed quotation mark ends its line."""
    counts: list[int] = []
    position = 0
    while position < len(data) and len(counts) <= _SNIFFED_LINES:
        record = scan_record(data, position, mark, longest=10_000)
        end = record.end
        if record.is_open:
            end = data.find(b"\n", position)
            end = len(data) if end < 0 else end
        if end > position:
            counts.append(record.fields)
        position = end + 1
    return counts or [1]


def _records(data: bytes, opening: Opening, name: str, spoiled: list[BrokenRow]) -> TextTable:
    if opening.start >= len(data):
        empty = pl.DataFrame(schema=dict.fromkeys(opening.headings, pl.String) | {LINE: pl.Int64})
        return TextTable(empty, tuple(spoiled))
    block = _BLOCK_BYTES
    while True:
        broken: list[BrokenRow] = []
        try:
            frame = _arrow(memoryview(data)[opening.start :], opening, broken, block)
            break
        except _RecordLongerThanBlock:
            if block >= min(len(data), _LARGEST_BLOCK):
                raise BadInput(f"{name} has a record of more than {block:,} bytes, which cannot be read.") from None
            block = min(16 * block, _LARGEST_BLOCK)
    return _with_lines(frame, broken, spoiled, opening.lines)


class _RecordLongerThanBlock(Exception):
    pass


def _arrow(body: memoryview, opening: Opening, broken: list[BrokenRow], block: int) -> pl.DataFrame:
    """The records as text. `broken` gets those with a wrong number of fields; their line is the record's number."""
    import pyarrow as pa
    import pyarrow.csv as arrow_csv

    def keep(row: arrow_csv.InvalidRow) -> str:
        reason = f"the line has {row.actual_columns} fields, the heading has {row.expected_columns}"
        broken.append(BrokenRow(row.number, row.text, reason))
        return "skip"

    names = [str(index) for index in range(len(opening.headings))]
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(pa.py_buffer(body)),
            read_options=arrow_csv.ReadOptions(use_threads=False, column_names=names, block_size=block),
            parse_options=arrow_csv.ParseOptions(
                delimiter=opening.delimiter, newlines_in_values=True, ignore_empty_lines=False, invalid_row_handler=keep
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()),
                strings_can_be_null=True,
                quoted_strings_can_be_null=True,
                null_values=[""],
            ),
        )
    except pa.ArrowInvalid as error:
        if "straddl" in str(error):
            raise _RecordLongerThanBlock from error
        raise
    frame = pl.from_arrow(table)
    assert isinstance(frame, pl.DataFrame)
    return frame.rename(dict(zip(names, opening.headings, strict=True)))


def _with_lines(frame: pl.DataFrame, broken: list[BrokenRow], spoiled: list[BrokenRow], lines: int) -> TextTable:
    """Give each record its line: record number, moved down by the heading and the breaks inside earlier cells.

    `spoiled` are lines that were blanked before reading; as records they are blank and fall away.
    """
    numbers = pl.int_range(1, 1 + frame.height + len(broken), eager=True)
    numbers = numbers.filter(~numbers.is_in([row.line for row in broken]))
    text = [pl.col(name).str.count_matches("\n", literal=True).fill_null(0) for name in frame.columns]
    breaks = frame.select(pl.sum_horizontal(text).alias("n"))["n"].cast(pl.Int64)
    inside = pl.DataFrame({"number": numbers, "breaks": breaks}).filter(pl.col("breaks") > 0)
    inside = pl.concat([inside, _inside_broken(broken)]).sort("number")
    record = pl.DataFrame({"number": numbers.cast(pl.Int64)})
    frame = frame.with_columns(_moved(record, inside, lines).alias(LINE))
    moved = _moved(pl.DataFrame({"number": [row.line for row in broken]}, schema={"number": pl.Int64}), inside, lines)
    rows = [BrokenRow(int(line), row.text, row.reason) for line, row in zip(moved, broken, strict=True)]
    taken = {row.line for row in spoiled}
    rows = [row for row in rows if row.text.strip("\r\n") and row.line not in taken]
    return TextTable(without_blank_rows(frame), tuple(sorted((*rows, *spoiled), key=lambda row: row.line)))


def _inside_broken(broken: list[BrokenRow]) -> pl.DataFrame:
    """A broken record may span lines too: those of its text."""
    rows = [(row.line, breaks) for row in broken if (breaks := row.text.rstrip("\n").count("\n"))]
    return pl.DataFrame(rows, schema={"number": pl.Int64, "breaks": pl.Int64}, orient="row")


def _moved(record: pl.DataFrame, inside: pl.DataFrame, lines: int) -> pl.Series:
    """Record numbers → lines: plus the heading's lines and the breaks inside all earlier records."""
    if not inside.height:
        return record["number"] + lines
    before = inside.select((pl.col("number") + 1).alias("number"), pl.col("breaks").cum_sum().alias("moved"))
    joined = record.sort("number").join_asof(before, on="number", strategy="backward")
    return (joined["number"] + joined["moved"].fill_null(0) + lines).rename("number")
