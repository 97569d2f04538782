"""Rows of a received file as they came, by their lines: for a reject that must be shown or mended."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl

from pipeline.checks.batch_sources import TableSource
from pipeline.readers.csv_chunks import Piece, PlainCsv, pieces, plain_csv
from pipeline.readers.files import LINE, TextTable, read_text_table


@dataclass(frozen=True, slots=True)
class Originals:
    """Headings of a file, and for each line asked for its cells as they came, or the text of a broken record."""

    headings: tuple[str, ...]
    cells: dict[int, dict[str, str | None]]
    broken: dict[int, str]


def original_rows(source: TableSource, lines: Collection[int]) -> Originals:
    """The rows of one received table at some lines. Only the parts of a CSV file that hold them are read."""
    wanted = set(lines)
    plain = plain_csv(source.quick_path) if source.quick_path else None
    if plain is None:
        return _picked([(source.read(), 0)], wanted)
    holding = (piece for piece in pieces(plain) if _holds(piece, wanted))
    return _picked([(_read(plain, piece, source.table.name), piece.first_line - 2) for piece in holding], wanted)


def _holds(piece: Piece, wanted: set[int]) -> bool:
    return any(piece.first_line <= line < piece.first_line + piece.lines for line in wanted)


def _read(plain: PlainCsv, piece: Piece, table: str) -> TextTable:
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"{table}.csv"
        path.write_bytes(",".join(plain.headings).encode() + b"\n" + piece.data)
        return read_text_table(path, table)


def _picked(parts: list[tuple[TextTable, int]], wanted: set[int]) -> Originals:
    """The wanted lines of each part; `shift` is what a part's lines must be moved by."""
    headings: dict[str, None] = {}
    cells: dict[int, dict[str, str | None]] = {}
    broken: dict[int, str] = {}
    for text, shift in parts:
        headings |= dict.fromkeys(text.headings)
        rows = text.frame.filter((pl.col(LINE) + shift).is_in(list(wanted)))
        for row in rows.iter_rows(named=True):
            cells[row.pop(LINE) + shift] = row
        broken |= {row.line + shift: row.text for row in text.broken if row.line + shift in wanted}
    return Originals(tuple(headings), cells, broken)
