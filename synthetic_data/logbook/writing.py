"""Job-log folders on disk: CSV and Parquet as they stream, XLSX at the end."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, Self

import polars as pl
from polars import selectors as cs

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.contract.whole_files import replace_file

if TYPE_CHECKING:
    from pyarrow.parquet import ParquetWriter

Format = Literal["csv", "parquet", "xlsx"]
FORMATS: tuple[Format, ...] = ("csv", "parquet", "xlsx")
WORKBOOK = "job_log.xlsx"
TIME_FORMAT = "%Y-%m-%dT%H:%M"
XLSX_ROWS = 1_048_575


def with_words(frame: pl.DataFrame) -> pl.DataFrame:
    """The table with yes and no for people: what CSV and XLSX hold."""
    return frame.with_columns(cs.boolean().replace_strict({True: "yes", False: "no"}, return_dtype=pl.String))


class ParquetStream:
    """One Parquet file, written row group by row group under another name until `close`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.partial = path.with_name(f".{path.name}.partial-{os.getpid()}")
        self._writer: ParquetWriter | None = None

    def add(self, frame: pl.DataFrame) -> None:
        """Append a row group; every frame has the columns and types of the first."""
        from pyarrow.parquet import ParquetWriter

        table = frame.rechunk().to_arrow(compat_level=pl.CompatLevel.oldest())
        if self._writer is None:
            self.partial.parent.mkdir(parents=True, exist_ok=True)
            self._writer = ParquetWriter(self.partial, table.schema, compression="zstd")
        self._writer.write_table(table)

    def close(self) -> None:
        """Finish the file and give it its name."""
        if self._writer is not None:
            self._writer.close()
            replace_file(self.partial, self.path)

    def abandon(self) -> None:
        """Remove what was written so far."""
        if self._writer is not None:
            self._writer.close()
        self.partial.unlink(missing_ok=True)


class FolderWriter:
    """Writes a job-log folder under another name and gives it its own when whole.

    `add` takes the tables of one chunk; `close` finishes; `abandon` leaves nothing at `out`.
    """

    def __init__(self, out: Path, form: Format) -> None:
        self.out, self.form = out, form
        self.rows = dict.fromkeys(JOB_LOG, 0)
        self.partial = out.with_name(f".{out.name}.partial-{os.getpid()}")
        self._kept: dict[str, list[pl.DataFrame]] = {name: [] for name in JOB_LOG}
        self._streams: dict[str, ParquetStream] = {}
        self.partial.mkdir(parents=True)

    def add(self, tables: dict[str, pl.DataFrame]) -> None:
        """Append the tables of one chunk."""
        for name, frame in tables.items():
            self.rows[name] += frame.height
            if self.form == "xlsx":
                self._kept[name].append(frame)
            elif self.form == "parquet":
                stream = self._streams.setdefault(name, ParquetStream(self.partial / f"{name}.parquet"))
                stream.add(frame)
            else:
                self._append_csv(name, frame)

    def _append_csv(self, name: str, frame: pl.DataFrame) -> None:
        with (self.partial / f"{name}.csv").open("ab") as file:
            with_words(frame).write_csv(file, include_header=file.tell() == 0, datetime_format=TIME_FORMAT)

    def close(self) -> None:
        """Write what is still held, then rename the folder to its name."""
        for stream in self._streams.values():
            stream.close()
        if self.form == "xlsx":
            frames = {name: pl.concat(parts) for name, parts in self._kept.items() if parts}
            write_workbook(self.partial / WORKBOOK, frames)
        if self.out.exists():
            self.out.rmdir()
        replace_file(self.partial, self.out)

    def abandon(self) -> None:
        """Remove what was written so far."""
        for stream in self._streams.values():
            stream.abandon()
        if self.partial.is_dir():
            for path in self.partial.iterdir():
                path.unlink()
            self.partial.rmdir()


Writer = FolderWriter | ParquetStream


class WrittenTogether:
    """Folders and files that appear all together at the end of a `with` block, or, on an error, not at all."""

    def __init__(self, **writers: Writer) -> None:
        self._writers: dict[str, Any] = dict(writers)

    def __getitem__(self, name: str) -> Any:
        return self._writers[name]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        for writer in self._writers.values():
            if kind is None:
                writer.close()
            else:
                writer.abandon()


def write_workbook(path: Path, frames: dict[str, pl.DataFrame]) -> None:
    """One workbook, a sheet per table; BadInput where a table has more rows than a sheet can hold."""
    from xlsxwriter import Workbook

    for name, frame in frames.items():
        if frame.height > XLSX_ROWS:
            raise BadInput(f"Table {name} has {frame.height} rows, more than an XLSX sheet holds: use csv or parquet.")
    with Workbook(path, {"constant_memory": False}) as book:
        # a fixed date of creation: the same seed must give the same bytes
        book.set_properties({"created": datetime(2026, 1, 1)})
        for name, frame in frames.items():
            with_words(frame).write_excel(
                book,
                worksheet=name,
                dtype_formats={pl.Datetime: "yyyy-mm-ddThh:mm", pl.Date: "yyyy-mm-dd"},
                autofilter=False,
                table_style=None,
            )
