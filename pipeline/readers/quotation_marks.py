"""Quotation marks that do not close: found line by line, so that one of them cannot swallow the file.

A quoted cell may hold line breaks. A quotation mark that opens and never closes reads on over the lines
that follow; it is told from a real line break by what it swallows. It is broken when no mark closes it,
when text follows the closing mark, when the line itself and every line it swallows would by themselves
have as many fields as the heading, or when the whole has a wrong number of fields and a line inside it
the right one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.readers.limits import MAX_CELL_CHARACTERS
from pipeline.readers.text_tables import BrokenRow

UNCLOSED = "a quotation mark opens and does not close, so that the line cannot be told from the next"
_QUOTE, _BREAK = ord('"'), ord("\n")
_BLOCK = 1 << 24
_TELLING_FIELDS = 5
"""From so many columns on it is no accident that both lines of a cell with one break have the right count."""

Positions = np.ndarray[Any, np.dtype[np.int64]]


@dataclass(frozen=True, slots=True)
class Record:
    """One record as the reader sees it: where it ends, its fields, whether it ends inside quotes or badly."""

    end: int
    fields: int
    is_open: bool
    is_untidy: bool


def scan_record(data: bytes, start: int, delimiter: int, longest: int = 4 * MAX_CELL_CHARACTERS) -> Record:
    """Follow one record from `start` to the line break that ends it (or the end of the data).

    A mark opens a quoted cell only at the start of a field; inside it two marks stand for one. A quoted
    cell longer than `longest` bytes counts as open.
    """
    position, fields, untidy, size = start, 1, False, len(data)
    while True:
        if position < size and data[position] == _QUOTE:
            closing = _closing(data, position + 1, min(size, position + longest))
            if closing < 0:
                return Record(size, fields, is_open=True, is_untidy=untidy)
            position = closing + 1
            untidy |= position < size and data[position] not in (delimiter, _BREAK)
        line_end = data.find(b"\n", position)
        line_end = size if line_end < 0 else line_end
        field_end = data.find(delimiter, position, line_end)
        if field_end < 0:
            return Record(line_end, fields, is_open=False, is_untidy=untidy)
        position, fields = field_end + 1, fields + 1


def _closing(data: bytes, position: int, limit: int) -> int:
    """Where the mark stands that closes a quoted cell whose text begins at `position`; -1 for nowhere."""
    while (found := data.find(_QUOTE, position, limit)) >= 0:
        if found + 1 < len(data) and data[found + 1] == _QUOTE:
            position = found + 2
            continue
        return found
    return -1


def without_unclosed(data: bytes, start: int, delimiter: str, fields: int) -> tuple[bytes, list[BrokenRow]]:
    """Blank every line from byte `start` on whose quotation mark does not close; lines count from 1 at `start`.

    `fields` is the number of headings. Nothing is copied where nothing is broken.
    """
    if b'"' not in data:
        return data, []
    mark = ord(delimiter)
    broken: list[BrokenRow] = []
    pieces, copied, done = [], 0, -1
    for line, begin, line_end in _doubtful_lines(data, start, mark):
        if begin < done:
            continue
        record = scan_record(data, begin, mark)
        if record.end <= line_end and not record.is_open:
            continue
        if not _is_unclosed(data, record, begin, line_end, mark, fields):
            done = record.end + 1
            continue
        broken.append(BrokenRow(line, data[begin:line_end].decode("utf-8", "replace"), UNCLOSED))
        pieces.append(data[copied:begin])
        copied = line_end
    return (b"".join([*pieces, data[copied:]]) if broken else data), broken


def _doubtful_lines(data: bytes, position: int, mark: int) -> Iterator[tuple[int, int, int]]:
    """Lines to be looked at one by one: number (from 1 at `position`), first byte, byte after the last.

    Worked in blocks of whole lines, because a file may be quoted throughout and as large as the memory.
    """
    line = 1
    while position < len(data):
        end = data.find(b"\n", min(position + _BLOCK, len(data)))
        end = len(data) if end < 0 else end + 1
        if data.find(b'"', position, end) >= 0:
            array = np.frombuffer(data, dtype=np.uint8, count=end - position, offset=position)
            starts: Positions = np.concatenate([[0], np.flatnonzero(array == _BREAK) + 1]).astype(np.int64)
            for index in _doubtful_in(array, starts, mark):
                begin = position + int(starts[index])
                yield line + int(index), begin, position + _end_of(starts, index, array.size)
        line += data.count(b"\n", position, end)
        position = end


def _end_of(starts: Positions, index: int, size: int) -> int:
    return int(starts[index + 1]) - 1 if index + 1 < starts.size else size


def _doubtful_in(array: np.ndarray[Any, np.dtype[np.uint8]], starts: Positions, mark: int) -> Positions:
    """Lines of a block whose marks do not by themselves open at a field's start and close at its end, in turn."""
    quotes: Positions = np.flatnonzero(array == _QUOTE).astype(np.int64)
    lines = np.searchsorted(starts, quotes, side="right") - 1
    first = np.searchsorted(lines, lines, side="left")
    is_opening = (np.arange(quotes.size) - first) % 2 == 0
    before = np.where(quotes > 0, array[quotes - 1], _BREAK)
    after = np.where(quotes + 1 < array.size, array[np.minimum(quotes + 1, array.size - 1)], _BREAK)
    fits = np.isin(np.where(is_opening, before, after), [mark, _BREAK, _QUOTE])
    odd = np.bincount(lines) % 2 == 1
    doubtful: Positions = np.unique(np.concatenate([lines[~fits], np.flatnonzero(odd)]))
    return doubtful


def _is_unclosed(data: bytes, record: Record, begin: int, line_end: int, mark: int, fields: int) -> bool:
    if record.is_open or record.is_untidy:
        return True
    swallowed = [_fields_alone(line, mark) == fields for line in data[line_end + 1 : record.end].split(b"\n")]
    if record.fields != fields:  # broken in any case: as few lines as possible go with it
        return any(swallowed[:-1])
    if fields < _TELLING_FIELDS and len(swallowed) < 2:
        return False
    return data[begin:line_end].count(mark) + 1 == fields and all(swallowed)


def _fields_alone(line: bytes, mark: int) -> int:
    """Fields of a line taken by itself; 0 where a quotation mark in it stays open."""
    record = scan_record(line, 0, mark)
    return 0 if record.is_open else record.fields
