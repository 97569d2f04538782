"""Rejects that are still open: those whose row was not handed in again by a later load.

The account never forgets: a rejected row stays rejected in the ledger of its batch. But once the same
row (by its key) comes in a later batch, whatever becomes of it there, the later one is the one to look
at. A row whose key cannot be read is known again by the place that the rejects workbook writes beside it.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

import polars as pl

from pipeline.checks.batch_sources import source_of
from pipeline.checks.original_rows import original_rows
from pipeline.checks.row_rules import typed
from pipeline.contract import JOB_LOG
from pipeline.contract.columns import row_key
from pipeline.contract.findings import SludgebookError
from pipeline.readers.files import LINE, read_text_table
from pipeline.renew import TIE
from pipeline.store.book import Book, read_arrow, read_records
from pipeline.store.checked_files import read_checked, scan_checked
from pipeline.store.received import Batch, batches

PLACE_HEADING = "(line)"
_PLACE = re.compile(r"^(?P<file>.+):(?P<line>\d+)@(?P<batch>[0-9a-f]{8})$")
_ALL = """
select batch_id, file, table_name, line, column_name, value, reason from rejects
order by batch_id, file, table_name, line, column_name, reason
"""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one cell, or with the row where `column` is empty."""

    column: str
    value: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """One rejected row: where it stands, and everything that is wrong with it."""

    batch: str
    file: str
    table: str
    line: int
    faults: tuple[Fault, ...]

    @property
    def place(self) -> str:
        """Where the row came from, short enough for a cell: `catches.csv:31@3f2a9c1b`."""
        return f"{self.file}:{self.line}@{self.batch[:8]}"


def rejected_rows(book: Book) -> tuple[RejectedRow, ...]:
    """Every row of the book that was ever rejected, with its faults, by batch, file and line."""
    numbers = {batch.batch_id: batch.number for batch in batches(book)}
    faults: dict[tuple[str, str, str, int], list[Fault]] = {}
    for row in read_records(book.current(), _ALL):
        place = (row["batch_id"], row["file"], row["table_name"], row["line"])
        faults.setdefault(place, []).append(Fault(row["column_name"], row["value"], row["reason"]))
    rows = [RejectedRow(*place, tuple(found)) for place, found in faults.items()]
    return tuple(sorted(rows, key=lambda row: (numbers.get(row.batch, 0), row.file, row.table, row.line)))


def open_rejects(book: Book) -> tuple[RejectedRow, ...]:
    """The rejected rows that no later batch brought again."""
    rows = rejected_rows(book)
    everything = batches(book)
    if not rows or len(everything) < 2:
        return rows
    again = _came_again(book, rows, everything)
    places = _places_handed_back(everything)
    return tuple(row for row in rows if row not in again and row.place not in places)


def faults_of(rows: Iterable[RejectedRow]) -> list[dict[str, object]]:
    """A dict a fault: file, table, line, column, value, reason."""
    return [
        {"file": row.file, "table": row.table, "line": row.line, **asdict(fault)}
        for row in rows
        for fault in row.faults
    ]


def _came_again(book: Book, rows: tuple[RejectedRow, ...], everything: list[Batch]) -> set[RejectedRow]:
    """Rows whose key stands in a later batch, accepted or rejected."""
    by_id = {batch.batch_id: batch for batch in everything}
    places = [(i, by_id[row.batch].number, row.file, row.table, row.line) for i, row in enumerate(rows)]
    known = pl.DataFrame(places, schema=["row", *_PLACED], orient="row").join(
        _jobs_of_rejects(book, everything), on=_PLACED, how="inner"
    )
    spans = [read_checked(_checked(book, batch) / "spans.parquet").select(_OF_JOB) for batch in everything]
    came = pl.concat([*spans, known.select(_OF_JOB)]).unique()
    often = came.group_by("table_name", *TIE).len().filter(pl.col("len") > 1)
    keyed = _with_keys(known.join(often, on=["table_name", *TIE], how="semi"), rows, by_id)
    standing = [_standing_keys(book, everything, keyed, table) for table in keyed["table_name"].unique()]
    every = pl.concat([keyed.select(*_OF_JOB, "key"), *standing])
    newest = every.group_by("table_name", *TIE, "key").agg(pl.col("batch_no").max().alias("newest_no"))
    settled = keyed.join(newest, on=["table_name", *TIE, "key"]).filter(pl.col("newest_no") > pl.col("batch_no"))
    return {rows[index] for index in settled["row"]}


_PLACED = ["batch_no", "file", "table_name", LINE]
_OF_JOB = ["batch_no", "table_name", *TIE]


def _checked(book: Book, batch: Batch) -> Path:
    return book.checked / batch.batch_id


def _jobs_of_rejects(book: Book, everything: list[Batch]) -> pl.DataFrame:
    """Firm and job of every rejected row whose firm and job can be read."""
    columns = [*_PLACED, *TIE]
    found = [read_checked(_checked(book, batch) / "rejects.parquet").select(columns) for batch in everything]
    sources = pl.concat(read_checked(_checked(book, batch) / "sources.parquet") for batch in everything)
    visit = pl.DataFrame(read_arrow(book.current(), "visit_rejects"))
    found.append(visit.join(sources, on=["batch_no", "source_no"]).select(columns))
    return pl.concat(found).drop_nulls(TIE).unique(maintain_order=True)


def _with_keys(tied: pl.DataFrame, rows: tuple[RejectedRow, ...], by_id: dict[str, Batch]) -> pl.DataFrame:
    """The rows with the text of the column that names them within the job, in one spelling, left out where it cannot be
    read. Of a callback that is its day alone: a cause in wrong words must not keep the corrected row from standing."""
    of_jobs = tied.filter(pl.col("table_name") == "jobs")  # the key is the job itself, hidden where it must be
    keys: list[tuple[int, str | None]] = list(of_jobs.select("row", "job_id").rows())
    others = tied.filter(pl.col("table_name") != "jobs")["row"].unique(maintain_order=True)
    chosen = [(index, rows[index]) for index in others]
    for (batch, file, table), own in by_source(chosen).items():
        column = JOB_LOG[table].column(row_key(JOB_LOG[table])[0])
        cells = original_rows(source_of(by_id[batch], file, table), [row.line for _, row in own]).cells
        texts = [cells.get(row.line, {}).get(column.name) for _, row in own]
        spelled = pl.DataFrame({column.name: texts}, schema={column.name: pl.String})
        spelled = spelled.select(typed(column).cast(pl.String))
        keys += zip([index for index, _ in own], spelled.to_series(), strict=True)
    frame = pl.DataFrame(keys, schema={"row": pl.Int64, "key": pl.String}, orient="row")
    return tied.join(frame, on="row").drop_nulls("key")


def by_source(rows: Iterable[tuple[int, RejectedRow]]) -> dict[tuple[str, str, str], list[tuple[int, RejectedRow]]]:
    """Numbered rows by batch, file and table."""
    found: dict[tuple[str, str, str], list[tuple[int, RejectedRow]]] = {}
    for index, row in rows:
        found.setdefault((row.batch, row.file, row.table), []).append((index, row))
    return found


def _standing_keys(book: Book, everything: list[Batch], keyed: pl.DataFrame, table: str) -> pl.DataFrame:
    """Keys that stand in the checked rows of the same jobs, in the spelling of `_with_keys`."""
    jobs = keyed.filter(pl.col("table_name") == table).select(TIE).unique().lazy()
    every = scan_checked(_checked(book, batch) / table for batch in everything).join(jobs, on=TIE, how="semi")
    key = pl.col(row_key(JOB_LOG[table])[0]).cast(pl.String).alias("key")
    return every.select("batch_no", pl.lit(table).alias("table_name"), *TIE, key).collect()


def _places_handed_back(everything: list[Batch]) -> set[str]:
    """Places written beside the rows of a rejects workbook that was handed back."""
    marks = {f"@{batch.batch_id[:8]}".encode() for batch in everything}
    found: set[str] = set()
    for batch in everything:
        for file in batch.files:
            path = batch.folder / file.stored
            if path.suffix.lower() == ".xlsx" and _mentions(path, marks):
                for table in file.tables:
                    found |= _places_in(path, table)
    return found


def _mentions(path: Path, marks: set[bytes]) -> bool:
    """Whether a workbook holds a place at all: looked for in its texts, without reading it as tables."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = [name for name in archive.namelist() if name.endswith("sharedStrings.xml") or "worksheets/" in name]
            return any(mark in content for content in map(archive.read, names) for mark in marks)
    except (OSError, zipfile.BadZipFile):
        return False


def _places_in(path: Path, table: str) -> set[str]:
    """The places in a sheet's column for them; the reader shows the heading `line` as `(line)`."""
    try:
        frame = read_text_table(path, table).frame
    except SludgebookError:
        return set()
    if PLACE_HEADING not in frame.columns:
        return set()
    return {cell for cell in frame[PLACE_HEADING].drop_nulls() if _PLACE.match(cell)}
