"""The job log format as a document, and empty files that a firm can fill in."""

from __future__ import annotations

import csv
from pathlib import Path

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column, Table
from pipeline.contract.findings import BadInput

WORKBOOK = "job_log.xlsx"
FILLABLE_ROWS = 2000
"""Rows of the workbook in which the drop-down lists and range checks work."""

_EXCEL_TYPES = {"date": "yyyy-mm-dd", "time": "yyyy-mm-dd hh:mm", "text": "@", "choice": "@"}
_RULES = (
    "Every unit stands in the column's name. An empty cell means not known: never zero, never no.",
    "Times are local, such as 2031-03-04T09:15; dates such as 2031-03-04.",
    "* = required. a..b: a value outside is rejected. a~b: a value outside loads, with a warning.",
    "No table holds customer names or addresses. Engineers are ids.",
)


def format_text(table: str | None = None) -> str:
    """The format as plain text, whole or one table; BadInput names the tables."""
    if table is not None and table not in JOB_LOG:
        raise BadInput(f"There is no table {table!r} in the job log; there are {', '.join(JOB_LOG)}.")
    tables = JOB_LOG.values() if table is None else [JOB_LOG[table]]
    return "\n".join([*_RULES, "", *(line for each in tables for line in _table_lines(each))])


def _table_lines(table: Table) -> list[str]:
    optional = ", optional" if table.optional else ""
    lines = [f"{table.name}: {table.grain}{optional}; key {', '.join(table.key)}"]
    for column in table.columns:
        star = "*" if column.required else ""
        allowed = f" [{column.allowed}]" if column.allowed else ""
        lines.append(f"  {column.name + star:<27} {column.kind:<8} {column.label}{allowed} ({column.known_by})")
    return [*lines, *(f"  - {rule}" for rule in table.rules), ""]


def format_data() -> list[dict[str, object]]:
    """The format as plain data, for JSON."""
    return [
        {
            "table": table.name,
            "grain": table.grain,
            "key": list(table.key),
            "optional": table.optional,
            "columns": [_column_data(column) for column in table.columns],
            "rules": list(table.rules),
        }
        for table in JOB_LOG.values()
    ]


def _column_data(column: Column) -> dict[str, object]:
    return {
        "name": column.name,
        "kind": column.kind,
        "required": column.required,
        "unit": column.unit,
        "allowed": column.allowed,
        "known_by": column.known_by,
        "meaning": column.meaning,
    }


def write_templates(folder: Path) -> tuple[Path, ...]:
    """Write one empty CSV a table and one workbook with drop-down lists; never over a file that is there."""
    targets = [folder / "csv" / f"{name}.csv" for name in JOB_LOG] + [folder / WORKBOOK]
    try:
        there = [path for path in targets if path.exists()]
        if there:
            raise BadInput(f"{there[0]} is there already and is not overwritten; name another folder.")
        (folder / "csv").mkdir(parents=True, exist_ok=True)
        for table, path in zip(JOB_LOG.values(), targets[:-1], strict=True):
            with path.open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerow(table.names)
        write_workbook(targets[-1])
    except OSError as error:
        raise BadInput(f"The templates cannot be written to {folder}: {error.strerror or error}.") from error
    return tuple(targets)


def write_workbook(path: Path) -> None:
    """One sheet a table: headings with their meaning as a note, drop-down lists, range checks; and a guide."""
    import xlsxwriter

    with xlsxwriter.Workbook(str(path)) as book:
        required = book.add_format({"bold": True, "bottom": 2, "bg_color": "#F6D9C3"})
        heading = book.add_format({"bold": True, "bottom": 1})
        for table in JOB_LOG.values():
            sheet = book.add_worksheet(table.name)
            sheet.freeze_panes(1, 2)
            for index, column in enumerate(table.columns):
                kind = book.add_format({"num_format": _EXCEL_TYPES.get(column.kind, "General")})
                sheet.set_column(index, index, max(12, len(column.name) + 2), kind)
                sheet.write(0, index, column.name, required if column.required else heading)
                sheet.write_comment(0, index, f"{column.label}\n{column.allowed}".strip())
                _validate(sheet, index, column)
        guide = book.add_worksheet("how_to_fill_in")
        guide.set_column(0, 0, 110)
        for row, line in enumerate(format_text().splitlines()):
            guide.write_string(row, 0, line)


def _validate(sheet: object, index: int, column: Column) -> None:
    rule: dict[str, object] | None = None
    if column.choices or column.kind == "yes_no":
        rule = {"validate": "list", "source": list(column.choices or ("yes", "no"))}
    elif column.kind in ("integer", "number") and (column.low is not None or column.high is not None):
        low = -1e9 if column.low is None else column.low
        high = 1e9 if column.high is None else column.high
        rule = {
            "validate": "integer" if column.kind == "integer" else "decimal",
            "criteria": "between",
            "minimum": low,
            "maximum": high,
        }
    if rule is None:
        return
    rule |= {"error_title": column.name, "error_message": f"Allowed: {column.allowed}"[:255]}
    sheet.data_validation(1, index, FILLABLE_ROWS, index, rule)  # type: ignore[attr-defined]
