"""Small workbooks and archives, made in memory for tests: some honest, some as a hostile hand would make them."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

import xlsxwriter

_SPACES = {
    "office": "urn:oasis:names:tc:opendocument:xmlns:office:1.0",
    "table": "urn:oasis:names:tc:opendocument:xmlns:table:1.0",
    "text": "urn:oasis:names:tc:opendocument:xmlns:text:1.0",
}
_DECLARED = " ".join(f"xmlns:{prefix}={quoteattr(name)}" for prefix, name in _SPACES.items())


def zipped(members: Mapping[str, bytes | str], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A ZIP archive of named members."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def xlsx(sheets: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """An XLSX workbook; texts are written as texts."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False}) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for i, row in enumerate(rows):
                for j, cell in enumerate(row):
                    sheet.write_string(i, j, cell) if isinstance(cell, str) else sheet.write(i, j, cell)
    return out.getvalue()


def xlsx_of_xml(sheet: str, strings: str = "") -> bytes:
    """An XLSX workbook with one sheet, `jobs`, whose rows are given as XML, and its stored texts."""
    parts = zipfile.ZipFile(io.BytesIO(xlsx({"jobs": [["a"]]})))
    members = {name: parts.read(name) for name in parts.namelist()}
    head, _, rest = members["xl/worksheets/sheet1.xml"].decode().partition("<sheetData>")
    members["xl/worksheets/sheet1.xml"] = f"{head}<sheetData>{sheet}{rest[rest.index('</sheetData>') :]}".encode()
    if strings:
        opening, _, _ = members["xl/sharedStrings.xml"].decode().partition("<si>")
        members["xl/sharedStrings.xml"] = f"{opening}{strings}</sst>".encode()
    return zipped(members)


def ods_cell(value: object) -> str:
    """A cell of an ODS sheet: text, number, or (kind, value) for dates and times."""
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, tuple):
        kind, text = value
        name = {"date": "date-value", "time": "time-value", "boolean": "boolean-value"}[kind]
        return _shown(f'office:value-type="{kind}" office:{name}="{text}"')
    if isinstance(value, str):
        lines = "".join(f"<text:p>{escape(line)}</text:p>" for line in value.split("\n"))
        return f'<table:table-cell office:value-type="string">{lines}</table:table-cell>'
    return _shown(f'office:value-type="float" office:value="{value}"')


def _shown(attributes: str) -> str:
    return f"<table:table-cell {attributes}><text:p>shown</text:p></table:table-cell>"


def ods(sheets: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """An ODS workbook of cells as `ods_cell` takes them."""
    return ods_of_xml(
        {
            name: "".join(f"<table:table-row>{''.join(map(ods_cell, row))}</table:table-row>" for row in rows)
            for name, rows in sheets.items()
        }
    )


def ods_of_xml(sheets: Mapping[str, str], before: str = "") -> bytes:
    """An ODS workbook whose rows are given as XML; `before` stands before the document."""
    tables = "".join(f"<table:table table:name={quoteattr(n)}>{rows}</table:table>" for n, rows in sheets.items())
    body = f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
    document = f"<office:document-content {_DECLARED}>{body}</office:document-content>"
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    return zipped({"mimetype": kind, "content.xml": f'<?xml version="1.0" encoding="UTF-8"?>{before}{document}'})
