"""Files as they come → text tables: every cell as text, every record with its line in the file.

CSV (UTF-8, header row), Parquet, and XLSX workbooks with a sheet per table. A record that is broken as
text (too few or too many fields, not UTF-8) becomes a `BrokenRow`; it never ends the file.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.findings import BadInput

SUFFIXES = (".csv", ".parquet", ".xlsx")
LINE = "line"


@dataclass(frozen=True, slots=True)
class BrokenRow:
    """A record that is broken as text: its line, the text, and what is wrong."""

    line: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class TextTable:
    """One table of one file, untouched: columns as text plus `line`, and the broken records."""

    frame: pl.DataFrame
    broken: tuple[BrokenRow, ...] = ()

    @property
    def rows(self) -> int:
        """Records in the file, the broken ones included, the heading not."""
        return self.frame.height + len(self.broken)

    @property
    def headings(self) -> tuple[str, ...]:
        """Headings as they came, trimmed."""
        return tuple(name for name in self.frame.columns if name != LINE)


def table_name(stem: str) -> str | None:
    """The job-log table that a file's or sheet's name stands for, or None."""
    name = stem.strip().lower().replace(" ", "_").replace("-", "_")
    return name if name in JOB_LOG else None


def tables_in(path: Path) -> tuple[str, ...]:
    """Names of the job-log tables that the file holds; empty when it holds none."""
    if path.suffix.lower() == ".xlsx":
        return tuple(name for sheet in _sheet_names(path) if (name := table_name(sheet)))
    name = table_name(path.stem)
    return (name,) if name and path.suffix.lower() in SUFFIXES else ()


def read_text_table(path: Path, table: str) -> TextTable:
    """Read one table of a file as text; BadInput in one sentence when it is no table at all."""
    suffix = path.suffix.lower()
    try:
        if suffix == ".csv":
            return _read_csv(path)
        if suffix == ".parquet":
            return _read_parquet(path)
        return _read_xlsx(path, table)
    except BadInput:
        raise
    except OSError as error:
        raise BadInput(f"{path.name} cannot be read: {error.strerror or error}.") from error
    except Exception as error:  # every reader has error types of its own; the user needs one sentence
        raise BadInput(f"{path.name} is no readable {suffix[1:].upper()} table: {_first_line(error)}") from error


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0]


def _read_csv(path: Path) -> TextTable:
    import pyarrow as pa
    import pyarrow.csv as arrow_csv

    data, undecodable = _utf8_lines(path.read_bytes())
    headings = _headings(path, data)
    spoiled = {row.line for row in undecodable}
    broken: list[BrokenRow] = []

    def keep(row: arrow_csv.InvalidRow) -> str:
        reason = f"the line has {row.actual_columns} fields, the heading has {row.expected_columns}"
        broken.append(BrokenRow(row.number, row.text, reason))
        return "skip"

    table = arrow_csv.read_csv(
        io.BytesIO(data),
        read_options=arrow_csv.ReadOptions(use_threads=False, column_names=headings, skip_rows=1),
        parse_options=arrow_csv.ParseOptions(
            newlines_in_values=True, ignore_empty_lines=False, invalid_row_handler=keep
        ),
        convert_options=arrow_csv.ConvertOptions(
            column_types=dict.fromkeys(headings, pa.string()),
            strings_can_be_null=True,
            quoted_strings_can_be_null=True,
            null_values=[""],
        ),
    )
    frame = pl.from_arrow(table)
    assert isinstance(frame, pl.DataFrame)
    return _with_lines(frame, broken, undecodable, spoiled)


def _headings(path: Path, data: bytes) -> list[str]:
    first = next(csv.reader(io.StringIO(data[:1_000_000].decode("utf-8", "replace"), newline="")), None)
    if not first or not any(cell.strip() for cell in first):
        raise BadInput(f"{path.name} is empty: the first line must hold the column headings.")
    headings = [cell.strip().lower() for cell in first]
    twice = sorted({name for name in headings if headings.count(name) > 1})
    if twice:
        raise BadInput(f"{path.name} has the heading {twice[0] or '(empty)'!r} more than once; name each column once.")
    if any("\x00" in name for name in headings):
        raise BadInput(f"{path.name} is no CSV table: its first line holds binary data.")
    return headings


def _utf8_lines(data: bytes) -> tuple[bytes, list[BrokenRow]]:
    """Text without a byte-order mark; lines that are not UTF-8 are blanked and returned as broken."""
    data = data.removeprefix(b"\xef\xbb\xbf")
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return data, []
    lines, broken = data.split(b"\n"), []
    for index, line in enumerate(lines):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            text = line.decode("utf-8", "replace").rstrip("\r")
            broken.append(BrokenRow(index + 1, text, "the line is not UTF-8 text"))
            lines[index] = b""
    return b"\n".join(lines), broken


def _with_lines(
    frame: pl.DataFrame, broken: list[BrokenRow], undecodable: list[BrokenRow], spoiled: set[int]
) -> TextTable:
    """Give each record its line: record number, moved down by the line breaks inside earlier cells."""
    numbers = pl.int_range(2, 2 + frame.height + len(broken), eager=True)
    numbers = numbers.filter(~numbers.is_in([row.line for row in broken]))
    text = [pl.col(name).str.count_matches("\n", literal=True).fill_null(0) for name in frame.columns]
    breaks = frame.select(pl.sum_horizontal(text).alias("n"))["n"] if text else pl.Series("n", [], pl.UInt32)
    earlier = breaks.cum_sum().shift(1, fill_value=0)
    frame = frame.with_columns((numbers.rename(LINE) + earlier).cast(pl.Int64).alias(LINE))
    shift = pl.DataFrame({"number": numbers, "breaks": breaks}).filter(pl.col("breaks") > 0)
    moved = tuple(
        BrokenRow(row.line + int(shift.filter(pl.col("number") < row.line)["breaks"].sum()), row.text, row.reason)
        for row in broken
    )
    cells = [name for name in frame.columns if name != LINE]
    blank = pl.all_horizontal([pl.col(name).is_null() for name in cells])
    frame = frame.filter(~(blank | pl.col(LINE).is_in(list(spoiled)))) if cells else frame
    blank_texts = tuple(row for row in moved if row.text.strip("\r\n") and row.line not in spoiled)
    return TextTable(frame, tuple(sorted((*blank_texts, *undecodable), key=lambda row: row.line)))


def _read_parquet(path: Path) -> TextTable:
    frame = pl.read_parquet(path)
    return TextTable(_as_text(frame))


def _read_xlsx(path: Path, table: str) -> TextTable:
    sheet = next(name for name in _sheet_names(path) if table_name(name) == table)
    frame = pl.read_excel(path, sheet_name=sheet, engine="calamine", infer_schema_length=0)
    return TextTable(_as_text(frame))


def _sheet_names(path: Path) -> list[str]:
    import fastexcel

    try:
        return list(fastexcel.read_excel(path).sheet_names)
    except Exception as error:  # the reader's own error types; the user needs one sentence
        raise BadInput(f"{path.name} is no readable XLSX workbook: {_first_line(error)}") from error


def _as_text(frame: pl.DataFrame) -> pl.DataFrame:
    """Every column as text in the job log's own spelling, every record with its line (heading = line 1)."""
    expressions = []
    for name, dtype in frame.schema.items():
        column = pl.col(name)
        if isinstance(dtype, pl.Datetime):
            column = column.dt.to_string("%Y-%m-%dT%H:%M:%S")
        elif dtype == pl.Boolean:
            column = pl.when(column).then(pl.lit("yes")).when(~column).then(pl.lit("no"))
        else:
            column = column.cast(pl.String)
        expressions.append(column.str.strip_chars().replace("", None).alias(name.strip().lower()))
    text = frame.select(expressions)
    text = text.with_columns(pl.int_range(2, 2 + pl.len(), dtype=pl.Int64).alias(LINE))
    cells = [name for name in text.columns if name != LINE]
    return text.filter(~pl.all_horizontal([pl.col(name).is_null() for name in cells])) if cells else text
