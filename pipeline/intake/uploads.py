"""What a page hands to the book and takes from it as bytes: uploads, a mapping beside the kept one, open rejects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.checks.batch_sources import MAPPING_FILE
from pipeline.contract.findings import BadInput, SludgebookError
from pipeline.contract.plain_names import plain_name
from pipeline.intake.reject_workbook import write_reject_workbook
from pipeline.mapping.confirmed_mapping import Mapping, mapping_faults
from pipeline.mapping.mapping_editor import MappingSheet, sheet_of
from pipeline.mapping.mapping_file import read_mapping, write_mapping
from pipeline.mapping.propose import propose
from pipeline.readers.files import find_in
from pipeline.store.book import Book

Uploads = Sequence[tuple[str, bytes]]
LONGEST_NAME = 200
"""Longest name kept whole [bytes]: a disk takes 255, and the book puts a number before some."""


def laid_out(files: Uploads, folder: Path) -> list[Path]:
    """Each file in a folder of its own, since two may have one name; a name that climbs is cut to its last part."""
    paths = []
    for number, (name, content) in enumerate(files, start=1):
        path = folder / str(number) / last_part(name)
        path.parent.mkdir()
        path.write_bytes(content)
        paths.append(path)
    return paths


def last_part(name: str) -> str:
    """A name that any disk takes on every system: no folder, no sign that Windows refuses, not too long."""
    last = plain_name(name.replace("\0", "").replace("\\", "/").rpartition("/")[2])
    return "upload" if last in ("", ".", "..") else last if len(last.encode()) <= LONGEST_NAME else last[-50:]


def sheet_for(files: Uploads, folder: Path, heading_line: int = 0) -> MappingSheet | None:
    """What is proposed for files with headings of their own, which stand on `heading_line` (0 finds it); None where
    there is nothing to propose."""
    try:
        tables = find_in(laid_out(files, folder)).tables
        proposal = propose(replace(table, heading_line=heading_line) for table in tables)
    except SludgebookError:
        return None
    return sheet_of(proposal) if proposal.tables else None


def beside_kept(mapping: Mapping, book: Book, folder: Path) -> Path:
    """The mapping as a file, with the tables of other sources that the book knows already: these stay known.

    BadInput names everything in the mapping that cannot be meant, else every question that is still open.
    """
    if faults := mapping_faults(mapping):
        raise BadInput(f"These headings cannot be used: {'; '.join(faults)}.")
    if mapping.open:
        raise BadInput(f"Answer every question first; open is still: {' '.join(mapping.open)}")
    kept = book.path / MAPPING_FILE
    new = {(table.source.lower(), table.table) for table in mapping.tables}
    others = read_mapping(kept).tables if kept.is_file() else ()
    stay = tuple(table for table in others if (table.source.lower(), table.table) not in new)
    out = folder / MAPPING_FILE
    write_mapping(out, Mapping((*mapping.tables, *stay)))
    return out


def reject_bytes(book: Book, batch: str | None) -> bytes:
    """The workbook of the open rejects, of the book or of one batch; empty for none. BadInput when too many."""
    with TemporaryDirectory() as folder:
        out = Path(folder) / "rejects.xlsx"
        return out.read_bytes() if write_reject_workbook(book, out, batch) else b""
