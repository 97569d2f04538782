"""Any table of a build as CSV, Parquet or XLSX."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pipeline.contract.findings import BadInput
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
    if out.exists():
        raise BadInput(f"{out} is there already and is not overwritten; name another file.")


def export_frame(frame: pl.DataFrame, out: Path) -> int:
    """Write a frame to a new file, the kind by its ending; the number of rows.

    BadInput when it cannot be written. Text that a spreadsheet would run as a formula is escaped with an
    apostrophe in CSV and stays plain text in XLSX.
    """
    check_new_file(out)
    try:
        write_frame(frame, out)
    except OSError as error:
        raise BadInput(f"{out} cannot be written: {error.strerror or error}.") from error
    return frame.height


def write_frame(frame: pl.DataFrame, out: Path) -> None:
    """Write a frame by the ending of the file name; BadInput when it is too long for a sheet."""
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
