"""What a file may hold at most. Beyond a limit it is refused whole, in one sentence that names the limit.

The limits are far above any honest log and far below what would bring a small office machine down.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

import polars as pl

from pipeline.contract.findings import BadInput, Finding
from pipeline.contract.measured import check_regular
from pipeline.readers.text_tables import LINE

MAX_FILE_BYTES = 4_000_000_000
"""Size of one file on disk: about fifty million readings as CSV."""

MAX_UNPACKED_BYTES = 4_000_000_000
"""What all members of one archive, or all parts of one workbook, may unpack to together."""

MAX_PACKING_RATIO = 200
"""Unpacked bytes over packed bytes; readings pack about 10 to 1, sheets of one repeated value about 100 to 1."""

RATIO_FREE_BYTES = 10_000_000
"""Below this unpacked size the ratio does not matter: nothing so small can do harm."""

MAX_MEMBERS = 2000
"""Files inside one archive."""

MAX_COLUMNS = 10_000
"""Columns of one table; the widest table of the job log has fewer than sixty."""

MAX_CELL_CHARACTERS = 1_000_000
"""Characters of one cell."""

MAX_SHEET_CELLS = 25_000_000
"""Rows times columns of one sheet, empty cells included, because a sheet is held as a full rectangle."""

MAX_WORKBOOK_CHARACTERS = 2_000_000_000
"""Characters of all cells of one sheet together; one stored text may stand in many cells."""

MAX_TABLE_CELLS = 500_000_000
"""Rows times columns of one table of text, JSON lines or Parquet: about forty-five million readings."""

MAX_CELLS_PER_BYTE = 100
"""Cells of a table over the bytes of its file; matters above ten million cells."""

CELLS_FREE = 10_000_000
"""Below this number of cells a table may pack as well as it likes."""


def check_file_size(path: Path, name: str) -> None:
    """BadInput when the file on disk is no regular file, is over the limit, or cannot be read at all."""
    size = check_regular(path, name).st_size
    if size > MAX_FILE_BYTES:
        raise BadInput(f"{name} has {size:,} bytes; a file may have at most {MAX_FILE_BYTES:,}.")


def check_unpacked(name: str, packed: int, unpacked: int) -> None:
    """BadInput when what is packed unpacks to more than is allowed, in all or by ratio."""
    if unpacked > MAX_UNPACKED_BYTES:
        raise BadInput(f"{name} unpacks to more than the {MAX_UNPACKED_BYTES:,} bytes that are allowed.")
    if unpacked > RATIO_FREE_BYTES and unpacked > MAX_PACKING_RATIO * max(packed, 1):
        raise BadInput(
            f"{name} unpacks to more than {MAX_PACKING_RATIO} times its size, which no honest table does; "
            "hand in the plain file."
        )


def check_columns(name: str, count: int) -> None:
    """BadInput when a table has too many columns."""
    if count > MAX_COLUMNS:
        raise BadInput(f"{name} has more than {MAX_COLUMNS:,} columns, which is the most a table may have.")


def check_sheet_cells(name: str, cells: int) -> None:
    """BadInput when a sheet spans too large a rectangle."""
    if cells > MAX_SHEET_CELLS:
        raise BadInput(f"{name} spans more than {MAX_SHEET_CELLS:,} cells, which is the most a sheet may span.")


def check_shape(rows: int, columns: int, size: int, name: str) -> None:
    """BadInput when a table has too many columns or cells, in all or for a file of `size` bytes."""
    check_columns(name, columns)
    cells = rows * columns
    if cells > MAX_TABLE_CELLS or cells > max(CELLS_FREE, MAX_CELLS_PER_BYTE * size):
        raise BadInput(
            f"{name} has {cells:,} cells; a table may have at most {MAX_TABLE_CELLS:,}, "
            f"and at most {MAX_CELLS_PER_BYTE} for each byte of its file."
        )


def check_sheet_characters(name: str, characters: int) -> None:
    """BadInput when the cells of a sheet hold too much text together."""
    if characters > MAX_WORKBOOK_CHARACTERS:
        raise BadInput(f"{name} holds more than {MAX_WORKBOOK_CHARACTERS:,} characters, which is the most it may hold.")


def check_cells(name: str, frame: pl.DataFrame) -> None:
    """BadInput when a text cell is too long or holds a NUL byte."""
    text = [column for column, dtype in frame.schema.items() if dtype == pl.String]
    if not text or not frame.height:
        return
    # a character has at most four bytes, and counting bytes costs nothing: count characters only where it matters
    longest = frame.select(pl.col(text).str.len_bytes().max()).row(0)
    doubtful = [column for column, size in zip(text, longest, strict=True) if (size or 0) > MAX_CELL_CHARACTERS]
    if any((frame[column].str.len_chars().max() or 0) > MAX_CELL_CHARACTERS for column in doubtful):  # type: ignore[operator]
        raise_long_cell(name)
    if any(frame[column].str.contains("\x00", literal=True).any() for column in text):
        raise_nul(name)


def check_texts(name: str, values: Iterable[str | None]) -> None:
    """The same for single values."""
    for value in values:
        if value is not None and len(value) > MAX_CELL_CHARACTERS:
            raise_long_cell(name)
        if value is not None and "\x00" in value:
            raise_nul(name)


def raise_long_cell(name: str) -> None:
    """Refuse a file for a cell that is too long."""
    raise BadInput(
        f"{name} has a cell of more than {MAX_CELL_CHARACTERS:,} characters, which is the most a cell may have."
    )


def raise_nul(name: str, line: int | None = None) -> None:
    """Refuse a file for a NUL byte, which no text holds."""
    where = "" if line is None else f" at line {line}"
    raise BadInput(f"{name} holds binary data{where} (a NUL byte, of which text holds none); export it again as text.")


_FIGURES = re.compile(r"^[+-]?[\d.,:/\s%-]+$")
_FEWEST_HEADINGS = 3


def heading_row(rows: Sequence[Sequence[str | None]]) -> int:
    """Which of the first rows holds the headings: the first that is filled, or the one below a title.

    A row with one filled cell is a title where the next that holds more has three cells or more and none
    of figures only. Returns the length of `rows` where all are blank.
    """
    filled = [[cell for cell in row if cell and cell.strip()] for row in rows]
    first = next((i for i, cells in enumerate(filled) if cells), len(rows))
    if first < len(rows) and len(filled[first]) == 1:
        below = next((i for i in range(first, len(rows)) if len(filled[i]) > 1), first)
        if len(filled[below]) >= _FEWEST_HEADINGS and not any(_FIGURES.match(cell.strip()) for cell in filled[below]):
            return below
    return first


def title_finding(name: str, line: int) -> Finding:
    """Say that what stands above the headings was left aside."""
    sentence = f"{name}: the headings were taken from line {line}; what stands above them was left aside."
    return Finding("lines_above_headings", sentence, {"file": name, "line": line})


def unique_headings(name: str, cells: Sequence[str | None]) -> list[str]:
    """Headings trimmed, in small letters, each once; an empty one is named by its place, `(column 3)`.

    BadInput when there are none, too many, or two alike.
    """
    check_columns(name, len(cells))
    check_texts(name, cells)
    words = [" ".join((cell or "").split()).lower() for cell in cells]
    if any(character < " " for word in words for character in word):
        raise BadInput(f"{name} is no table: its first line holds binary data.")
    if not any(words):
        raise BadInput(f"{name} is empty: the first line must hold the column headings.")
    headings = [word or f"(column {index})" for index, word in enumerate(words, start=1)]
    headings = [f"({LINE})" if heading == LINE else heading for heading in headings]  # that name is taken
    seen: set[str] = set()
    for heading in headings:
        if heading in seen:
            raise BadInput(f"{name} has the heading {heading!r} more than once; name each column once.")
        seen.add(heading)
    return headings
