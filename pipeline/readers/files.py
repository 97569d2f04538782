"""Files as they come → text tables: every cell as text, every record with its line in the file.

CSV and TSV, Parquet, JSON lines, XLSX and ODS workbooks with a sheet per table, ZIP archives of any of
these, folders. A record that is broken as text (too few or too many fields, a quotation mark that does
not close, a line that cannot be decoded) becomes a `BrokenRow`; it never ends the file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

import polars as pl

from pipeline.contract.findings import BadInput, Finding
from pipeline.readers.archives import Content, member_bytes, members
from pipeline.readers.delimited import read_delimited
from pipeline.readers.limits import check_file_size
from pipeline.readers.ods import ods_sheets, read_ods_sheet
from pipeline.readers.spreadsheet_serials import with_serial_dates
from pipeline.readers.text_tables import LINE, BrokenRow, TextTable, table_name
from pipeline.readers.typed_rows import read_json_lines, read_parquet
from pipeline.readers.xlsx import open_workbook, read_sheet, refused

SUFFIXES = (".csv", ".tsv", ".txt", ".parquet", ".jsonl", ".ndjson", ".xlsx", ".ods", ".zip")
"""Endings of the files that may hold tables."""

WORKBOOKS = (".xlsx", ".ods")
ARCHIVE = ".zip"
OLD_WORKBOOKS = (".xls", ".xlsb", ".xlsm")
OLD_WORKBOOK = "is a workbook of a kind that is not read; open it in its program and save it as XLSX"
PROSE = ".txt"
"""An ending of tables and of notes alike; a note beside the tables is left aside."""

_PEEK = 1 << 16
_HIDDEN = (".", "~$", "__MACOSX")

__all__ = [
    "LINE",
    "SUFFIXES",
    "BrokenRow",
    "Found",
    "FoundTable",
    "TextTable",
    "files_of",
    "find_in",
    "find_tables",
    "left_aside",
    "read_text_table",
    "table_name",
    "tables_in",
]


@dataclass(frozen=True, slots=True)
class FoundTable:
    """A table found in a file: how it is shown (`archive.zip/log.xlsx/jobs`), and where it lies.

    `stem` is the file's or sheet's own name; `table` the job-log table it stands for, None for a table
    that needs a mapping. `member` is the file inside the archive `path`, `sheet` the sheet of a workbook.
    `heading_line` is the line that a person says the headings stand on, 0 where it is to be found.
    """

    name: str
    stem: str
    table: str | None
    path: Path
    member: str = ""
    sheet: str = ""
    findings: tuple[Finding, ...] = ()
    heading_line: int = 0

    @property
    def suffix(self) -> str:
        """Ending of the file or member, in small letters."""
        return PurePosixPath(self.member or self.path.name).suffix.lower()

    @property
    def counts_from_1904(self) -> bool:
        """Whether it lies in a workbook whose days count from 1904 (an old setting of one spreadsheet)."""
        if self.suffix != ".xlsx":
            return False
        content: Content = _member(self.path, self.member, self.name) if self.member else self.path
        return open_workbook(content, self.name).counts_from_1904

    def read(self) -> TextTable:
        """Read it as text; BadInput in one sentence when it is no table at all."""
        with refused(self.name, f"{self.suffix[1:].upper()} table"):
            if not self.member:
                check_file_size(self.path, self.name)
            return self._read()

    def _read(self) -> TextTable:
        content: Content = _member(self.path, self.member, self.name) if self.member else self.path
        if self.suffix == ".parquet":
            return read_parquet(content, self.name)
        if self.suffix == ".ods":
            sheet = read_ods_sheet(content, self.sheet, self.name, self.heading_line)
            return with_serial_dates(sheet, self.table, from_1904=False)
        if self.suffix == ".xlsx":
            from_1904 = open_workbook(content, self.name).counts_from_1904
            sheet = read_sheet(content, self.sheet, self.name, self.heading_line)
            return with_serial_dates(sheet, self.table, from_1904=from_1904)
        data = content if isinstance(content, bytes) else content.read_bytes()
        if self.suffix in (".jsonl", ".ndjson"):
            return read_json_lines(data, self.name)
        return read_delimited(data, self.name, self.heading_line)


@dataclass(frozen=True, slots=True)
class Found:
    """All tables among some paths, and a finding for each file that holds none and was left aside."""

    tables: tuple[FoundTable, ...]
    findings: tuple[Finding, ...] = ()


def find_tables(path: Path) -> list[FoundTable]:
    """Every table in a file, an archive or a folder with its folders; BadInput when it cannot be opened."""
    return list(find_in([path]).tables)


def find_in(paths: Iterable[Path]) -> Found:
    """Every table among files, archives and folders, shown by names that differ."""
    tables: list[FoundTable] = []
    aside: list[Finding] = []
    for path in paths:
        with refused(str(path), "folder or file"):
            if not path.exists():
                raise BadInput(f"{path} is not there; check the path.")
            files = files_of(path) if path.is_dir() else [path]
        for file in files:
            shown = file.relative_to(path).as_posix() if path.is_dir() else file.name
            if file.suffix.lower() in SUFFIXES:
                with refused(shown, f"{file.suffix[1:].upper()} file"):
                    check_file_size(file, shown)
                    tables += _in_file(file, shown, aside)
            else:
                aside.append(left_aside(shown))
    return Found(tuple(_told_apart(tables)), tuple(aside))


def files_of(folder: Path) -> list[Path]:
    """Files of a folder and its folders, hidden ones and links to elsewhere left out."""
    inside = folder.resolve()
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and not any(part.startswith(_HIDDEN) for part in path.relative_to(folder).parts)
        and path.resolve().is_relative_to(inside)
    ]


def left_aside(shown: str) -> Finding:
    """What is said of a file that is no table: no reason to stop the tables beside it."""
    is_old = shown.lower().endswith(OLD_WORKBOOKS)
    what = f"was left aside: it {OLD_WORKBOOK}" if is_old else "is no table of the job log and was left aside"
    return Finding("file_left_aside", f"{shown} {what}.", {"file": shown})


def _in_file(path: Path, shown: str, aside: list[Finding]) -> list[FoundTable]:
    if path.suffix.lower() != ARCHIVE:
        if path.suffix.lower() == PROSE and not _is_table(path.stem, path.read_bytes()[:_PEEK]):
            aside.append(left_aside(shown))
            return []
        return _in_content(path, path, "", shown)
    found: list[FoundTable] = []
    for info in members(path, shown):
        name = f"{shown}/{info.filename}"
        suffix = PurePosixPath(info.filename).suffix.lower()
        if any(part.startswith(_HIDDEN) for part in PurePosixPath(info.filename).parts):
            continue
        if suffix == ARCHIVE or suffix not in SUFFIXES:
            aside.append(left_aside(name))
            continue
        content = member_bytes(path, info, shown) if suffix in (*WORKBOOKS, PROSE) else b""
        if suffix == PROSE and not _is_table(PurePosixPath(info.filename).stem, content[:_PEEK]):
            aside.append(left_aside(name))
            continue
        found += _in_content(content, path, info.filename, name)
    return found


def _is_table(stem: str, begin: bytes) -> bool:
    """Whether a .txt is a table and no prose: named after one, or begun with two lines of as many fields."""
    if table_name(stem):
        return True
    first, second, *_ = (*begin.replace(b"\x00", b"").splitlines(), b"", b"")
    return any(first.count(mark) == second.count(mark) > 0 for mark in (b"\t", b";", b",", b"|"))


def _in_content(content: Content, path: Path, member: str, shown: str) -> list[FoundTable]:
    file = PurePosixPath(member or path.name)
    if file.suffix.lower() not in WORKBOOKS:
        return [FoundTable(shown, file.stem, table_name(file.stem), path, member)]
    is_ods = file.suffix.lower() == ".ods"
    sheets = ods_sheets(content, shown) if is_ods else open_workbook(content, shown).sheets
    if len(set(sheets)) < len(sheets):
        raise BadInput(f"{shown} has two sheets of the same name; give each its own.")
    return [FoundTable(f"{shown}/{sheet}", sheet, table_name(sheet), path, member, sheet) for sheet in sheets]


def _member(archive: Path, member: str, shown: str) -> bytes:
    for info in members(archive, archive.name):
        if info.filename == member:
            return member_bytes(archive, info, archive.name)
    raise BadInput(f"{shown} is no longer in {archive.name}.")


def _told_apart(tables: list[FoundTable]) -> list[FoundTable]:
    """Names that stand twice get the folder, and at last the whole path, before them."""
    for prefix in (lambda t: t.path.parent.name, lambda t: str(t.path.parent)):
        uses = Counter(each.name for each in tables)
        tables = [replace(t, name=f"{prefix(t)}/{t.name}") if uses[t.name] > 1 else t for t in tables]
    return tables


def tables_in(path: Path) -> tuple[str, ...]:
    """Names of the job-log tables that the file holds; empty when it holds none."""
    if path.suffix.lower() not in SUFFIXES:
        return ()
    if path.suffix.lower() not in (*WORKBOOKS, ARCHIVE):
        name = table_name(path.stem)
        return (name,) if name else ()
    return tuple(dict.fromkeys(found.table for found in find_tables(path) if found.table))


def read_text_table(path: Path, table: str) -> TextTable:
    """Read one table of a file as text; BadInput in one sentence when it is no table at all.

    Several parts of one archive or workbook that stand for the same table are read as one.
    """
    if path.suffix.lower() not in (*WORKBOOKS, ARCHIVE):
        return FoundTable(path.name, path.stem, table, path).read()
    texts = [found.read() for found in find_tables(path) if found.table == table]
    if not texts:
        raise BadInput(f"{path.name} holds no table {table}.")
    frame = pl.concat([text.frame for text in texts], how="diagonal")
    broken = tuple(row for text in texts for row in text.broken)
    return TextTable(frame, broken, tuple(finding for text in texts for finding in text.findings))
