"""ODS workbooks → text tables, read piece by piece: repeated cells are counted before they are unfolded.

The workbook library reads ODS too, but loses clock times and unfolds repeats without a limit; so this
reader is the project's own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.parsers import expat

import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.readers.archives import Content, members, unpacked
from pipeline.readers.limits import check_columns, check_sheet_cells, check_sheet_characters
from pipeline.readers.text_tables import TextTable
from pipeline.readers.xlsx import sheet_table

_CLOCK = re.compile(r"^PT(\d+)H(\d+)M(\d+)(?:[.,]\d+)?S$")
_VALUES = {
    "float": "office:value",
    "percentage": "office:value",
    "currency": "office:value",
    "date": "office:date-value",
    "time": "office:time-value",
    "boolean": "office:boolean-value",
}
_CELL_TAGS = ("table:table-cell", "table:covered-table-cell")


def ods_sheets(content: Content, name: str) -> tuple[str, ...]:
    """Names of the sheets in order; BadInput when the file is no ODS workbook."""
    return tuple(_walked(content, name, None).sheets)


def read_ods_sheet(content: Content, sheet: str, name: str, heading_line: int = 0) -> TextTable:
    """One sheet as text. Dates come as ISO text, clock times as `09:15:00`, yes and no as words."""
    rows = _walked(content, name, sheet).rows
    width = max((len(row) for row in rows), default=0)
    columns = {str(i): [row[i] if i < len(row) else None for row in rows] for i in range(width)}
    return sheet_table(pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String)), name, heading_line)


def _walked(content: Content, name: str, sheet: str | None) -> _Walk:
    found = [info for info in members(content, name) if info.filename == "content.xml"]
    if not found:
        raise BadInput(f"{name} is no readable ODS workbook: it has no content.xml.")
    walk = _Walk(name, sheet)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = walk.start
    parser.EndElementHandler = walk.end
    parser.CharacterDataHandler = walk.text
    parser.StartDoctypeDeclHandler = walk.refuse_doctype
    try:
        for piece in unpacked(content, found[0], name):
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise BadInput(f"{name} is no readable ODS workbook: {error}.") from error
    return walk


@dataclass(frozen=True, slots=True)
class _Cell:
    """What stands in the start tag of a cell, and its paragraphs."""

    attributes: dict[str, str]
    paragraphs: list[str]

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """A tag inside the cell: a paragraph, spaces, a tab, a line break."""
        if tag == "text:p":
            self.paragraphs.append("")
        elif self.paragraphs and tag == "text:s":
            self.paragraphs[-1] += " " * min(_repeats(attributes, "text:c"), 1000)
        elif self.paragraphs and tag in ("text:tab", "text:line-break"):
            self.paragraphs[-1] += "\t" if tag == "text:tab" else "\n"

    def value(self) -> str | None:
        """The cell as text; empty is None."""
        kind = self.attributes.get("office:value-type", "")
        text = self.attributes.get(_VALUES.get(kind, ""))
        if text is None:
            return self.attributes.get("office:string-value") or "\n".join(self.paragraphs) or None
        if kind == "time" and (clock := _CLOCK.match(text)) and int(clock[1]) < 24:
            return f"{int(clock[1]):02}:{int(clock[2]):02}:{int(clock[3]):02}"
        return text


class _Walk:
    """Follows the XML of a workbook; keeps the names of its sheets and the rows of one of them."""

    def __init__(self, name: str, sheet: str | None) -> None:
        self.name, self.sheet = name, sheet
        self.sheets: list[str] = []
        self.rows: list[list[str | None]] = []
        self._tables: list[str] = []
        self._cells: list[_Cell] = []
        self._row: list[str | None] = []
        self._notes = self._blank_cells = self._blank_rows = 0
        self._row_repeats = 1
        self._width = self._characters = 0

    def refuse_doctype(self, *_: object) -> None:
        """Entities of its own could make a small file unfold without end."""
        raise BadInput(f"{self.name} declares a document type, which no honest workbook does.")

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """A start tag."""
        if tag == "table:table":
            self._tables.append(attributes.get("table:name", f"sheet {len(self.sheets) + 1}"))
            if len(self._tables) == 1:
                self.sheets.append(self._tables[0])
        elif tag == "office:annotation":
            self._notes += 1
        elif not self._is_wanted():
            return
        elif tag == "table:table-row":
            self._row, self._blank_cells = [], 0
            self._row_repeats = _repeats(attributes, "table:number-rows-repeated")
        elif tag in _CELL_TAGS:
            self._cells.append(_Cell(attributes, []))
        elif self._cells and not self._notes:
            self._cells[-1].start(tag, attributes)

    def text(self, data: str) -> None:
        """Text between tags; that of a note on a cell is no value."""
        if self._cells and self._cells[-1].paragraphs and not self._notes:
            self._cells[-1].paragraphs[-1] += data

    def end(self, tag: str) -> None:
        """An end tag."""
        if tag == "office:annotation":
            self._notes -= 1
        elif tag in _CELL_TAGS and self._cells:
            self._keep_cell(self._cells.pop())
        elif tag == "table:table-row" and self._is_wanted():
            self._keep_row()
        elif tag == "table:table":
            self._tables.pop()

    def _is_wanted(self) -> bool:
        return self.sheet is not None and self._tables == [self.sheet]

    def _keep_cell(self, cell: _Cell) -> None:
        repeats = _repeats(cell.attributes, "table:number-columns-repeated")
        value = cell.value()
        if value is None:
            self._blank_cells += repeats
            return
        check_columns(self.name, len(self._row) + self._blank_cells + repeats)
        self._row += [None] * self._blank_cells + [value] * repeats
        self._blank_cells = 0
        self._characters += len(value) * repeats * self._row_repeats
        check_sheet_characters(self.name, self._characters)

    def _keep_row(self) -> None:
        if not self._row:
            self._blank_rows += self._row_repeats
            return
        self._width = max(self._width, len(self._row))
        height = len(self.rows) + self._blank_rows + self._row_repeats
        check_sheet_cells(self.name, self._width * height)
        self.rows += [[]] * self._blank_rows + [self._row] * self._row_repeats
        self._blank_rows = 0


def _repeats(attributes: dict[str, str], name: str) -> int:
    text = attributes.get(name, "1")
    return max(1, int(text[:9])) if text.isascii() and text.isdigit() else 1
