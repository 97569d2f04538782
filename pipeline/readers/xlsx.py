"""XLSX workbooks → text tables: every sheet looked through for its true size before it is read."""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.readers.archives import Content, members, unpacked
from pipeline.readers.limits import (
    MAX_WORKBOOK_CHARACTERS,
    check_cells,
    check_columns,
    check_sheet_cells,
    check_sheet_characters,
    heading_row,
    title_finding,
    unique_headings,
)
from pipeline.readers.text_tables import LINE, TextTable, without_blank_rows

_TITLE_ROWS = 10
_OVERLAP = 256
_PLACE = re.compile(rb"""\sr\s*=\s*["']([A-Za-z]*)(\d{1,9})["']""")
_SHARED = re.compile(rb"""t=["']s["'][^>]*><v>(\d{1,9})</v>""")
_EPOCH_1904 = re.compile(rb"""date1904\s*=\s*["'](1|true)["']""")
_CLOCK_ONLY = r"^(?:1899-12-3[01]|1904-01-01)[ T](\d\d:\d\d:\d\d)(?:\.\d+)?$"


@dataclass(frozen=True, slots=True)
class Workbook:
    """What looking through a workbook told: its sheets in order, and whether its days count from 1904."""

    sheets: tuple[str, ...]
    counts_from_1904: bool


def open_workbook(content: Content, name: str) -> Workbook:
    """Look a workbook through; BadInput when it is none or breaks a limit."""
    if isinstance(content, bytes):
        return _look_through(content, name)
    try:
        facts = content.stat()
    except OSError as error:
        raise BadInput(f"{name} cannot be read: {error.strerror or error}.") from error
    return _remembered(content, name, facts.st_mtime_ns, facts.st_size)


@lru_cache(maxsize=8)
def _remembered(path: Path, name: str, changed_ns: int, size: int) -> Workbook:
    del changed_ns, size  # they only tell a changed file from the one looked through before
    return _look_through(path, name)


def _look_through(content: Content, name: str) -> Workbook:
    """Every part is looked at as if it were a sheet and held stored texts: a workbook may keep them anywhere."""
    parts = members(content, name)
    longest, string_cells, from_1904 = 0, 0, False
    for part in parts:
        seen = _check_part(unpacked(content, part, name), name)
        longest, string_cells = max(longest, seen.longest_text), max(string_cells, seen.string_cells)
        from_1904 |= seen.counts_from_1904
    if longest * string_cells > MAX_WORKBOOK_CHARACTERS:
        _check_shared_characters(content, parts, name)
    return Workbook(tuple(_engine(content, name).sheet_names), from_1904)


@dataclass(frozen=True, slots=True)
class _Part:
    """Upper bounds for one part: bytes of a stored text, cells that point to one; and the day it counts from."""

    longest_text: int
    string_cells: int
    counts_from_1904: bool


def _check_part(pieces: Iterable[bytes], name: str) -> _Part:
    """Check the rectangle that a part spans if it is a sheet."""
    rows, width, cells, strings, tail = 0, 0, 0, 0, b""
    longest, open_bytes, from_1904 = 0, 0, False
    for piece in pieces:
        text = tail + piece
        for letters, digits in _PLACE.findall(text):
            rows = max(rows, int(digits))
            width = max(width, _column_number(letters))
        from_1904 |= _EPOCH_1904.search(text) is not None
        tail = text[-_OVERLAP:]
        cells += piece.count(b"<c")
        strings += piece.count(b'"s"') + piece.count(b"'s'")
        texts = piece.split(b"<si")
        longest = max(longest, open_bytes + len(texts[0]), *map(len, texts[1:]))
        open_bytes = open_bytes + len(texts[0]) if len(texts) == 1 else len(texts[-1])
        check_columns(name, width)
        check_sheet_cells(name, max(rows * width, cells))
    return _Part(longest, strings, from_1904)


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper()[:8]:
        number = 26 * number + letter - 64
    return number


def _check_shared_characters(content: Content, parts: tuple[zipfile.ZipInfo, ...], name: str) -> None:
    """Count exactly how much text the cells hold that point to stored texts."""
    lengths: list[int] = []
    used: list[tuple[Counter[bytes], int]] = []
    for part in parts:
        data = b"".join(unpacked(content, part, name))
        lengths += [len(text) for text in data.split(b"<si")[1:]]
        found = Counter(_SHARED.findall(data))
        used.append((found, data.count(b'"s"') + data.count(b"'s'") - found.total()))
    for found, unclear in used:
        known = sum(lengths[int(index)] * times for index, times in found.items() if int(index) < len(lengths))
        check_sheet_characters(name, known + max(unclear, 0) * max(lengths, default=0))


def _engine(content: Content, name: str) -> Any:
    import fastexcel

    with refused(name, "XLSX workbook"):
        return fastexcel.read_excel(content if isinstance(content, bytes) else str(content))


class refused:  # noqa: N801 (reads as a clause: with refused(name, …))
    """Turn whatever a reading engine raises into one sentence; its own error types are many."""

    def __init__(self, name: str, what: str) -> None:
        self.name, self.what = name, what

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        """Raise BadInput for errors of the engine, a panic of it included; let all others pass."""
        if error is None or isinstance(error, BadInput):
            return
        if isinstance(error, OSError) and error.errno is not None:
            raise BadInput(f"{self.name} cannot be read: {error.strerror or error}.") from error
        if isinstance(error, MemoryError):
            raise BadInput(f"{self.name} needs more memory than this machine has; hand it in in parts.") from error
        if isinstance(error, Exception) or type(error).__name__ == "PanicException":
            what = " ".join(str(error).split())[:200].rstrip(".") or type(error).__name__
            raise BadInput(f"{self.name} is no readable {self.what}: {what}.") from error


def read_sheet(content: Content, sheet: str, name: str, heading_line: int = 0) -> TextTable:
    """One sheet as text. Dates come as ISO text, clock times as `09:15:00`, yes and no as words."""
    open_workbook(content, name)
    engine = _engine(content, name)
    with refused(name, "XLSX workbook"):
        found = engine.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string").to_polars()
    return sheet_table(found, name, heading_line)


def sheet_table(cells: pl.DataFrame, name: str, heading_line: int = 0) -> TextTable:
    """A rectangle of text cells → text table, headed by its first row that is filled or the one below a title, or by
    the row that a person says it is."""
    text = cells.select(pl.all().str.strip_chars().replace("", None))
    filled = text.select(pl.any_horizontal(pl.all().is_not_null())).to_series() if text.width else pl.Series([False])
    top = filled.arg_max() if filled.any() else None
    if top is None:
        raise BadInput(f"{name} is empty: the first line must hold the column headings.")
    if heading_line > text.height:
        raise BadInput(f"{name} has no line {heading_line}, where its headings are said to stand.")
    first = heading_line - 1 if heading_line else top + heading_row(text.slice(top, _TITLE_ROWS).rows())
    records = text.slice(first + 1)
    headings = list(text.row(first))
    used = [i for i, heading in enumerate(headings) if heading or records.to_series(i).null_count() < records.height]
    names = unique_headings(name, headings)
    frame = records.select(pl.col(text.columns[i]).alias(names[i]) for i in used)
    frame = frame.with_columns(
        pl.all().str.replace(_CLOCK_ONLY, "$1").replace({"true": "yes", "false": "no"})
    ).with_columns(pl.int_range(first + 2, first + 2 + pl.len(), dtype=pl.Int64).alias(LINE))
    check_cells(name, frame)
    return TextTable(without_blank_rows(frame), (), (title_finding(name, first + 1),) if first > top else ())
