"""Any table of a build as CSV, Parquet or XLSX."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.contract.new_files import check_is_new, new_file
from pipeline.store.book import Book, read_arrow

FORMATS = (".csv", ".parquet", ".xlsx")
XLSX_ROWS = 1_048_575
_FORMULA_START = r"^([=+\-@\t\r])"


def export_table(book: Book, table: str, out: Path) -> int:
    """Write one table of the current build to a new file; the number of rows. BadInput as `export_frame`."""
    check_new_file(out)
    return export_frame(pl.DataFrame(read_arrow(book.current(), table)), out)


def check_new_file(out: Path) -> None:
    """BadInput for an unknown ending or a file that is there already."""
    suffix = out.suffix.lower()
    if suffix not in FORMATS:
        raise BadInput(f"{out.name} must end in {', '.join(FORMATS)}.")
    check_is_new(out)


def export_frame(frame: pl.DataFrame, out: Path) -> int:
    """Write a frame to a new file, the kind by its ending; the number of rows.

    BadInput when it cannot be written. Text that a spreadsheet would run as a formula is escaped with an
    apostrophe in CSV and stays plain text in XLSX.
    """
    check_new_file(out)
    with new_file(out) as part:
        write_frame(frame, part)
    return frame.height


@contextmanager
def _as_os_error() -> Iterator[None]:
    """What the writers of tables say of the disk, as the system would say it."""
    try:
        yield
    except pl.exceptions.PolarsError as error:
        raise OSError(0, str(error).strip().splitlines()[0].rstrip(".")) from error


def write_frame(frame: pl.DataFrame, out: Path) -> None:
    """Write a frame by the ending of the file name; BadInput when it is too long for a sheet."""
    with _as_os_error():
        _write(frame, out)


def _write(frame: pl.DataFrame, out: Path) -> None:
    match out.suffix.lower():
        case ".parquet":
            frame.write_parquet(out)
        case ".xlsx":
            if frame.height > XLSX_ROWS:
                raise BadInput(f"{frame.height} rows do not fit on one sheet; export CSV or Parquet.")
            frame.write_excel(str(out), autofit=frame.height < 5000)
        case _:
            plain = frame.with_columns(pl.col(pl.String).str.replace(_FORMULA_START, "'$1"))
            plain.write_csv(out, datetime_format="%Y-%m-%dT%H:%M:%S")
