"""The rejects workbook: every open reject as it came, the bad cell marked, the reason beside it.

A person mends the cells and hands the workbook back: it is a job log like any other, a sheet a table. Its
two columns more, `line` (where the row came from) and `reason`, are known to the load and left aside.
"""

from __future__ import annotations

import csv
from pathlib import Path

from pipeline.checks.batch_sources import source_of
from pipeline.checks.original_rows import Originals, original_rows
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.contract.new_files import check_is_new, new_file
from pipeline.intake.open_rejects import RejectedRow, by_source, open_rejects
from pipeline.store.book import Book
from pipeline.store.export import XLSX_ROWS
from pipeline.store.received import Batch, batches

LONGEST_CELL = 32_000
"""A cell of a workbook holds 32,767 characters; a longer text is cut."""

Cells = dict[str, str]


def write_reject_workbook(book: Book, out: Path, batch: str | None = None) -> int:
    """Write the open rejects, of one batch or of the whole book, to a new XLSX file; the number of rows.

    Nothing is written when there are none. Columns outside the format are not carried over. BadInput for
    another ending, a file that is there already, a batch that is not in the book.
    """
    _check(book, out, batch)
    rows = [row for row in open_rejects(book) if batch is None or row.batch == batch]
    if not rows:
        return 0
    by_id = {each.batch_id: each for each in batches(book)}
    sheets = {table: _sheet(table, [row for row in rows if row.table == table], by_id) for table in JOB_LOG}
    if max(map(len, sheets.values())) > XLSX_ROWS:
        raise BadInput("More rows were rejected than fit on one sheet; name one batch, or mend the file itself.")
    with new_file(out) as part:
        _write(part, {table: found for table, found in sheets.items() if found})
    return len(rows)


def _check(book: Book, out: Path, batch: str | None) -> None:
    if out.suffix.lower() != ".xlsx":
        raise BadInput(f"{out.name} must end in .xlsx.")
    check_is_new(out)
    names = [each.batch_id for each in batches(book)]
    if batch is not None and batch not in names:
        raise BadInput(f"There is no batch {batch!r} in the book; there are {', '.join(names)}.")


def _sheet(table: str, rows: list[RejectedRow], by_id: dict[str, Batch]) -> list[tuple[RejectedRow, Cells]]:
    """Each rejected row with its cells as they came, in the order of batches, files and lines."""
    found: list[tuple[RejectedRow, Cells]] = []
    for (batch, file, _), own in by_source(enumerate(rows)).items():
        lines = [row.line for _, row in own]
        originals = original_rows(source_of(by_id[batch], file, table), lines)
        found += [(row, _cells(originals, row.line)) for _, row in own]
    return found


def _cells(originals: Originals, line: int) -> Cells:
    if line in originals.cells:
        return {name: cell or "" for name, cell in originals.cells[line].items()}
    return _spread(originals.broken.get(line, ""), originals.headings)


def _spread(text: str, headings: tuple[str, ...]) -> Cells:
    """The text of a broken record laid under the headings; what is too much stays in the last cell."""
    mark = max(",;\t", key=text.count)
    try:
        fields = next(csv.reader([text.replace("\n", " ").replace("\r", " ")], delimiter=mark), [])
    except csv.Error:
        fields = [text]
    if len(fields) > len(headings):
        fields = [*fields[: len(headings) - 1], mark.join(fields[len(headings) - 1 :])]
    return dict(zip(headings, fields, strict=False))


def _write(out: Path, sheets: dict[str, list[tuple[RejectedRow, Cells]]]) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(str(out)) as workbook:
        bold = workbook.add_format({"bold": True})
        bad = workbook.add_format({"bg_color": "#F6C9B7", "border": 1, "border_color": "#A33A12"})
        for table, rows in sheets.items():
            sheet = workbook.add_worksheet(table)
            there = {name for _, cells in rows for name in cells}
            faulty = {fault.column for row, _ in rows for fault in row.faults}
            needed = {column.name for column in JOB_LOG[table].columns if column.required}
            names = [name for name in JOB_LOG[table].names if name in there | faulty | needed]
            headings = [*names, "line", "reason"]
            sheet.freeze_panes(1, 0)
            for place, heading in enumerate(headings):
                sheet.write_string(0, place, heading, bold)
                sheet.set_column(place, place, 60 if heading == "reason" else max(12, len(heading) + 2))
            for number, (row, cells) in enumerate(rows, start=1):
                marked = {fault.column for fault in row.faults}
                texts = [*(cells.get(name, "") for name in names), row.place, _reason(row)]
                for place, (heading, text) in enumerate(zip(headings, texts, strict=True)):
                    is_bad = heading in marked or (marked == {""} and place < len(names))
                    _put(sheet, number, place, text, bad if is_bad else None)


def _put(sheet: object, row: int, place: int, text: str, form: object) -> None:
    """Text as text, never as a formula or a number; an empty cell only where it is marked."""
    if text:
        sheet.write_string(row, place, text[:LONGEST_CELL], form)  # type: ignore[attr-defined]
    elif form is not None:
        sheet.write_blank(row, place, None, form)  # type: ignore[attr-defined]


def _reason(row: RejectedRow) -> str:
    return "; ".join(f"{f.column}: {f.reason}" if f.column else f.reason for f in row.faults)
