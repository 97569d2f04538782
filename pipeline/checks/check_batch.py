"""A received batch → its checked form: typed rows, spans, rejects, warnings, and what came in which file.

Plain CSV goes piece by piece, quickly where a piece is clean and row by row where it is not; other files
row by row. Everything is written under another name and renamed when whole.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache, partial
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl

from pipeline.checks.batch_sources import TableSource, batch_sources
from pipeline.checks.check_rows import FAULT_SCHEMA, CheckedTable, check_rows, conflicts
from pipeline.checks.in_turn import in_turn
from pipeline.checks.quick_check import quick_rows, quick_typed
from pipeline.checks.spans import SCHEMA as SPAN_SCHEMA
from pipeline.checks.spans import runs_of, spans_of
from pipeline.contract import CONTRACT_VERSION, JOB_LOG
from pipeline.contract.columns import Table
from pipeline.contract.whole_files import replace_file, sync_folder, write_whole
from pipeline.privacy.private_text import without_private
from pipeline.readers.csv_chunks import Piece, PlainCsv, pieces, plain_csv, without_quoted
from pipeline.readers.files import LINE, read_text_table
from pipeline.readers.parquet_slices import parquet_slices
from pipeline.readers.text_tables import TextTable
from pipeline.readers.typed_rows import as_text
from pipeline.store.book import Book
from pipeline.store.checked_files import scan_checked
from pipeline.store.received import Batch

STAMP = "stamp.json"
SOURCE_SCHEMA = {
    "source_no": pl.Int64,
    "file": pl.String,
    "table_name": pl.String,
    "rows": pl.Int64,
    "batch_id": pl.String,
    "batch_no": pl.Int64,
    "loaded_on": pl.Date,
}
POLARS_TYPES: dict[str, pl.DataType] = {
    "text": pl.String(),
    "choice": pl.String(),
    "integer": pl.Int64(),
    "number": pl.Float64(),
    "yes_no": pl.Boolean(),
    "date": pl.Date(),
    "time": pl.Datetime("us"),
}


class _Source:
    """One job-log table of one file while it is being checked: its account grows piece by piece."""

    def __init__(self, number: int, found: TableSource) -> None:
        self.number, self.found, self.file, self.table = number, found, found.file, found.table
        self.rows = 0
        self.runs: list[pl.DataFrame] = []
        self.faults: list[pl.DataFrame] = []
        self.warnings: list[pl.DataFrame] = []


def stamp() -> dict[str, object]:
    """What a checked batch was made with; another stamp means that it must be made again."""
    return {"contract": CONTRACT_VERSION, "checks": 5, "polars": _polars_version()}


@cache
def _polars_version() -> str:
    """Of the library that reads and writes; asked once, because the answer is read from a file."""
    return version("polars")


def found_stamp(book: Book, batch_id: str) -> dict[str, object]:
    """The stamp of a batch's checked form as it stands on disk; empty where there is none that can be read."""
    try:
        found = json.loads((book.checked / batch_id / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def is_checked(book: Book, batch: Batch) -> bool:
    """Whether the batch stands checked by these very rules."""
    return found_stamp(book, batch.batch_id) == stamp()


def check_batch(book: Book, batch: Batch) -> None:
    """Write the checked form of a batch, whole or not at all."""
    sources = [_Source(number, found) for number, found in enumerate(batch_sources(batch), start=1)]
    _put_in_place(book, batch, sources, stamp())


def check_as_empty(book: Book, batch: Batch, marks: dict[str, object]) -> None:
    """Write a checked form that holds no row, its stamp with `marks`: for a batch whose checking failed."""
    _put_in_place(book, batch, [], {**stamp(), **marks})


def _put_in_place(book: Book, batch: Batch, sources: list[_Source], marks: dict[str, object]) -> None:
    part = book.checked / f".{batch.batch_id}.part"
    shutil.rmtree(part, ignore_errors=True)
    try:
        _write_checked(batch, sources, part, book.id_key())
        write_whole(part / STAMP, json.dumps(marks).encode())
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise
    target = book.checked / batch.batch_id
    shutil.rmtree(target, ignore_errors=True)
    replace_file(part, target)
    sync_folder(book.checked)


def _write_checked(batch: Batch, sources: list[_Source], part: Path, id_key: bytes) -> None:
    today = batch.received_at.date()
    for table in JOB_LOG.values():
        (part / table.name).mkdir(parents=True)
        _write(_empty(table), part / table.name / "none.parquet", batch.number)
    for source in sources:
        write = partial(_checked_and_written, source, part / source.table.name, batch.number)
        tasks = enumerate(_tasks(source, today, id_key))
        for piece in in_turn(partial(write, number, task) for number, task in tasks):
            _take(source, piece)
        source.faults += _conflicts(source, part)
    for name in JOB_LOG:
        sync_folder(part / name)
    _write_accounts(sources, batch, part)


def _tasks(source: _Source, today: date, id_key: bytes) -> Iterator[Callable[[], CheckedTable]]:
    """What there is to check of one source, piece by piece in the order of its lines."""
    path = source.found.quick_path
    if path is None:
        yield partial(_checked_whole, source, today, id_key)
    elif path.suffix.lower() == ".parquet":
        line = 2
        for raw in parquet_slices(path, source.file):
            yield partial(_checked_slice, source, raw, line, today, id_key)
            line += raw.height
    elif (plain := plain_csv(path)) is not None:
        for piece in pieces(plain):
            yield partial(_checked_piece, source, plain, piece, today, id_key)


def _checked_whole(source: _Source, today: date, id_key: bytes) -> CheckedTable:
    text = source.found.read()
    return check_rows(source.table, source.file, without_private(text, source.table.name, id_key), today)


def _checked_slice(source: _Source, raw: pl.DataFrame, line: int, today: date, id_key: bytes) -> CheckedTable:
    """A slice of Parquet: quickly where its columns hold what the contract wants, else as text."""
    rows = quick_typed(raw, line, source.table, today)
    if rows is not None:
        none = pl.DataFrame(schema=FAULT_SCHEMA)
        return CheckedTable(source.table.name, source.file, rows.height, rows, none, none)
    text = without_private(TextTable(as_text(raw, source.file)), source.table.name, id_key)
    return _moved(check_rows(source.table, source.file, text, today), pl.col(LINE) + (line - 2))


def _moved(checked: CheckedTable, line: pl.Expr) -> CheckedTable:
    """The same with other line numbers."""
    frames = (frame.with_columns(line.alias(LINE)) for frame in (checked.accepted, checked.rejects, checked.warnings))
    return CheckedTable(checked.table, checked.file, checked.rows, *frames)


def _checked_piece(source: _Source, plain: PlainCsv, piece: Piece, today: date, id_key: bytes) -> CheckedTable:
    """Quickly where the piece is clean; lines with quotes apart; else row by row."""
    rows = quick_rows(piece, plain.headings, source.table, today)
    if rows is not None:
        none = pl.DataFrame(schema=FAULT_SCHEMA)
        return CheckedTable(source.table.name, source.file, rows.height, rows, none, none)
    halves = without_quoted(piece) if b'"' in piece.data else None
    if halves is None or not halves[0].lines or not halves[1].lines:
        return _row_by_row(source, plain, piece, today, id_key)
    both = (
        _checked_piece(source, plain, halves[0], today, id_key),
        _row_by_row(source, plain, halves[1], today, id_key),
    )
    return CheckedTable(
        source.table.name,
        source.file,
        sum(half.rows for half in both),
        pl.concat(half.accepted for half in both).sort(LINE),
        pl.concat(half.rejects for half in both),
        pl.concat(half.warnings for half in both),
    )


def _row_by_row(source: _Source, plain: PlainCsv, piece: Piece, today: date, id_key: bytes) -> CheckedTable:
    """Judge one piece by the thorough reader: the piece under its heading, lines put back to where they stood."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"{source.table.name}.csv"
        path.write_bytes(",".join(plain.headings).encode() + b"\n" + piece.data)
        text = read_text_table(path, source.table.name)
        checked = check_rows(source.table, source.file, without_private(text, source.table.name, id_key), today)
    if piece.numbers is None:
        return _moved(checked, pl.col(LINE) + (piece.first_line - 2))
    stood = pl.Series(piece.numbers, dtype=pl.Int64)
    return _moved(checked, pl.col(LINE).map_batches(lambda lines: stood.gather(lines - 2), return_dtype=pl.Int64))


@dataclass(frozen=True, slots=True, eq=False)
class _Written:
    """What is kept of one piece once its accepted rows are on disk."""

    rows: int
    rejects: pl.DataFrame
    warnings: pl.DataFrame
    runs: pl.DataFrame | None


def _checked_and_written(
    source: _Source, folder: Path, batch_no: int, number: int, task: Callable[[], CheckedTable]
) -> _Written:
    """Check one piece and write its accepted rows; touches nothing that another piece touches."""
    checked = task()
    if not checked.accepted.height:
        return _Written(checked.rows, checked.rejects, checked.warnings, None)
    rows = checked.accepted.with_columns(pl.lit(source.number, pl.Int64).alias("source_no"))
    _write(rows, folder / f"{source.number:03d}-{number:05d}.parquet", batch_no)
    return _Written(checked.rows, checked.rejects, checked.warnings, runs_of(source.table, checked.accepted))


def _take(source: _Source, piece: _Written) -> None:
    source.rows += piece.rows
    source.faults.append(piece.rejects)
    source.warnings.append(piece.warnings)
    if piece.runs is not None:
        source.runs.append(piece.runs)


def _write(rows: pl.DataFrame, path: Path, batch_no: int) -> None:
    _write_synced(rows.with_columns(pl.lit(batch_no, pl.Int64).alias("batch_no")), path)


def _write_synced(rows: pl.DataFrame, path: Path) -> None:
    """A power cut must not leave a stamp that vouches for rows which never reached the disk."""
    try:
        rows.write_parquet(path, compression="lz4")
    except pl.exceptions.ComputeError as error:  # rows of ours, typed: what fails is the disk, whose number is lost
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG), str(path)) from error
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def _conflicts(source: _Source, part: Path) -> list[pl.DataFrame]:
    """Faults of jobs whose keys may stand twice in the file with different content."""
    spans = spans_of(source.table, source.number, source.runs)
    if source.table.name != "jobs":
        spans = spans.filter(~pl.col("is_tidy"))
    if not spans.height:
        return []
    every = scan_checked([part / source.table.name], f"{source.number:03d}-*.parquet")
    tie = ["firm_id", "job_id"]
    return [conflicts(source.table, source.file, every.join(spans.lazy(), on=tie, how="semi").collect())]


def _write_accounts(sources: list[_Source], batch: Batch, part: Path) -> None:
    today = batch.received_at.date()
    marks = (pl.lit(batch.batch_id).alias("batch_id"), pl.lit(batch.number, pl.Int64).alias("batch_no"))
    none = pl.DataFrame(schema={"source_no": pl.Int64, **FAULT_SCHEMA})

    def numbered(source: _Source, frames: list[pl.DataFrame]) -> list[pl.DataFrame]:
        return [frame.select(pl.lit(source.number, pl.Int64).alias("source_no"), *FAULT_SCHEMA) for frame in frames]

    rejects = pl.concat([none, *(f for s in sources for f in numbered(s, s.faults))])
    warnings = pl.concat([none, *(f for s in sources for f in numbered(s, s.warnings))])
    rows = [(s.number, s.file, s.table.name, s.rows, batch.batch_id, batch.number, today) for s in sources]
    spans = [spans_of(s.table, s.number, s.runs) for s in sources]
    _write_synced(rejects.with_columns(marks), part / "rejects.parquet")
    _write_synced(warnings.with_columns(marks), part / "warnings.parquet")
    _write_synced(pl.DataFrame(rows, schema=SOURCE_SCHEMA, orient="row"), part / "sources.parquet")
    every = pl.concat([pl.DataFrame(schema=SPAN_SCHEMA), *spans])
    _write_synced(every.with_columns(marks[1]), part / "spans.parquet")


def _empty(table: Table) -> pl.DataFrame:
    schema = {column.name: POLARS_TYPES[column.kind] for column in table.columns}
    return pl.DataFrame(schema=schema | {LINE: pl.Int64(), "source_no": pl.Int64()})
