"""Job-log folders on disk: CSV as it streams, Parquet and XLSX at the end."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from typing import Literal

import polars as pl
from polars import selectors as cs

from pipeline.contract import JOB_LOG
from pipeline.findings import BadInput

Format = Literal["csv", "parquet", "xlsx"]
FORMATS: tuple[Format, ...] = ("csv", "parquet", "xlsx")
WORKBOOK = "job_log.xlsx"
TIME_FORMAT = "%Y-%m-%dT%H:%M"
XLSX_ROWS = 1_048_575


def with_words(frame: pl.DataFrame) -> pl.DataFrame:
    """The table with yes and no for people: what CSV and XLSX hold."""
    return frame.with_columns(cs.boolean().replace_strict({True: "yes", False: "no"}, return_dtype=pl.String))


class FolderWriter:
    """Writes a job-log folder under another name and gives it its own when whole.

    `add` takes the tables of one chunk; `close` finishes. Leaving the `with` block on an error leaves
    nothing at `out`.
    """

    def __init__(self, out: Path, form: Format) -> None:
        self.out, self.form = out, form
        self.rows = dict.fromkeys(JOB_LOG, 0)
        self.partial = out.with_name(f".{out.name}.partial-{os.getpid()}")
        self._kept: dict[str, list[pl.DataFrame]] = {name: [] for name in JOB_LOG}
        self.partial.mkdir(parents=True)

    def add(self, tables: dict[str, pl.DataFrame]) -> None:
        """Append the tables of one chunk."""
        for name, frame in tables.items():
            is_first = self.rows[name] == 0
            self.rows[name] += frame.height
            if self.form != "csv":
                self._kept[name].append(frame)
                continue
            path = self.partial / f"{name}.csv"
            with path.open("ab") as file:
                is_new = is_first and file.tell() == 0
                with_words(frame).write_csv(file, include_header=is_new, datetime_format=TIME_FORMAT)

    def close(self) -> None:
        """Write what is still held, then rename the folder to its name."""
        frames = {name: pl.concat(parts) for name, parts in self._kept.items() if parts}
        if self.form == "parquet":
            for name, frame in frames.items():
                frame.write_parquet(self.partial / f"{name}.parquet")
        elif self.form == "xlsx":
            write_workbook(self.partial / WORKBOOK, frames)
        if self.out.exists():
            self.out.rmdir()
        self.partial.rename(self.out)

    def abandon(self) -> None:
        """Remove what was written so far."""
        for path in self.partial.iterdir():
            path.unlink()
        self.partial.rmdir()


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
                book, worksheet=name, dtype_formats={pl.Datetime: "yyyy-mm-ddThh:mm", pl.Date: "yyyy-mm-dd"},
                autofilter=False, table_style=None,
            )  # fmt: skip
