"""The mapping as a TOML file that a person reads and edits, and back."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract.findings import BadInput
from pipeline.contract.measured import MAX_MAPPING_BYTES, parsed_toml, read_measured
from pipeline.contract.whole_files import replace_file
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping, TableMap, mapping_faults

if TYPE_CHECKING:
    from pipeline.mapping.proposal import Proposal

VERSION = 1
ASK = "# ask: "
"""What a line of the file begins with that a person has to answer and to take away."""

_ASKED = re.compile(r"\s*#\s*ask\s*:(.*)")
_TEXTS = tuple(f.name for f in fields(ColumnMap) if f.name != "values")
_DEFAULTS = {f.name: f.default for f in fields(ColumnMap)}
_HEAD = """\
# Which heading of the firm's files is which column of the job log. `sludgebook format` prints the columns.
# Read it through. Answer every line that begins with `# ask:` and take the line away: nothing is loaded while there
# is one. What an asked heading would be stands below the question, to be used without its "# ".
# A line `# left out:` is a heading that no column takes; add it if it is one. A column left out stays empty.
#   heading      the firm's heading, in small letters        constant   the same text for every row
#   unit         unit of the heading's numbers, or "each cell" where every cell names its own
#   decimal      mark before the decimals, "." or ","        thousands  mark between thousands, "" for none
#   dates        "dmy", "mdy", "ymd", or "serial" for a spreadsheet's day numbers, "dmy serial" where both stand
#   date_heading the heading that holds the day of a clock time
#   heading_line  the line of the file that the headings stand on, where it was not found right
#   values       the firm's words and the job log's          numbers    what takes the place of {n}
"""


def write_mapping(path: Path, mapping: Mapping, proposal: Proposal | None = None) -> None:
    """Write the mapping, whole or not at all; with a proposal, its scores, samples and questions as comments.

    BadInput when the file cannot be written.
    """
    text = mapping_text(mapping, proposal)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        replace_file(part, path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BadInput(f"The mapping cannot be written to {path}: {error.strerror or error}.") from error


def mapping_text(mapping: Mapping, proposal: Proposal | None = None) -> str:
    """The file as text."""
    blocks = [f"{_HEAD}\nversion = {VERSION}\n"]
    if proposal is not None:
        blocks.append("".join(f"# {_comment(sentence)}\n" for sentence in proposal.remarks()))
    for table in mapping.tables:
        blocks.append(_table_text(table, proposal))
    return "\n".join(block for block in blocks if block)


def _table_text(table: TableMap, proposal: Proposal | None) -> str:
    lines = ["[[tables]]", f"source = {_quoted(table.source)}", f"table = {_quoted(table.table)}"]
    if table.heading_line:
        lines.append(f"heading_line = {table.heading_line}")
    if table.numbers:
        lines.append(f"numbers = [{', '.join(map(str, table.numbers))}]")
    if proposal is not None:
        lines += [f"{ASK}{_comment(question)}" for question in proposal.questions_of(table)]
        lines += [f"# {_comment(line)}" for option in proposal.options_of(table) for line in _column_lines(option)]
        lines += [f"# {_comment(each.sentence)}" for each in proposal.left_out_of(table)]
    for column in table.columns:
        lines.append("")
        if proposal is not None:
            lines += [f"# {_comment(note)}" for note in proposal.notes_of(table, column)]
            lines += [f"{ASK}{_comment(question)}" for question in proposal.questions_of(table, column)]
        lines += _column_lines(column)
    return "\n".join(lines) + "\n"


def _column_lines(column: ColumnMap) -> list[str]:
    texts = [
        f"{name} = {_quoted(getattr(column, name))}"
        for name in _TEXTS
        if name == "column" or getattr(column, name) != _DEFAULTS[name]
    ]
    values = [f"{_quoted(theirs)} = {_quoted(ours)}" for theirs, ours in column.values]
    return ["[[tables.columns]]", *texts, *(["[tables.columns.values]", *values] if values else [])]


def _quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _comment(sentence: str) -> str:
    """One line that TOML takes as a comment: no control characters."""
    return "".join(c if c.isprintable() else " " for c in sentence)


def read_mapping(path: Path) -> Mapping:
    """The mapping in a file; BadInput names the file and every fault at once."""
    if not path.exists():
        raise BadInput(f"{path} is not there; `sludgebook map PATH --out {path.name}` writes a proposal.")
    data = read_measured(path, MAX_MAPPING_BYTES)
    given, text = parsed_toml(data, str(path)), data.decode("utf-8-sig")
    faults: list[str] = []
    mapping = _mapping(given, faults)
    faults += mapping_faults(mapping)
    if faults:
        raise BadInput(f"{path} cannot be used: {'; '.join(faults)}.")
    return replace(mapping, open=_open_lines(text, path.name))


def _open_lines(text: str, name: str) -> tuple[str, ...]:
    """The lines that are still to be answered, each with its number."""
    found = [(number, _ASKED.match(line)) for number, line in enumerate(text.split("\n"), 1)]
    return tuple(
        f"{match[1].strip()} (line {number} of {name}; take the line away once it is answered)"
        for number, match in found
        if match is not None
    )


def _mapping(given: dict[str, Any], faults: list[str]) -> Mapping:
    faults += _unknown(given, ("version", "tables"), "the file")
    if given.get("version", VERSION) != VERSION:
        faults.append(f"version {given['version']!r} is not {VERSION}, the only one there is")
    tables = _list(given, "tables", "the file", faults)
    return Mapping(tuple(table for i, each in enumerate(tables, 1) if (table := _table(each, i, faults)) is not None))


def _table(given: dict[str, Any], index: int, faults: list[str]) -> TableMap | None:
    where = f"table {index}"
    faults += _unknown(given, ("source", "table", "heading_line", "numbers", "columns"), where)
    texts = {name: _text(given, name, where, faults) for name in ("source", "table")}
    numbers = given.get("numbers", [])
    if not isinstance(numbers, list) or not all(_is_number(n) for n in numbers):
        faults.append(f"{where}: numbers must be a list of whole numbers from 0 to 10000")
        numbers = []
    line = given.get("heading_line", 0)
    if not _is_number(line):
        faults.append(f"{where}: heading_line must be a whole number, the line that the headings stand on")
        line = 0
    columns = _list(given, "columns", where, faults)
    found = tuple(_column(each, f"{where} column {i}", faults) for i, each in enumerate(columns, 1))
    return TableMap(texts["source"], texts["table"], found, tuple(numbers), line) if texts["table"] else None


def _is_number(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 10_000


def _column(given: dict[str, Any], where: str, faults: list[str]) -> ColumnMap:
    faults += _unknown(given, (*_TEXTS, "values"), where)
    texts = {name: _text(given, name, where, faults) for name in _TEXTS if name in given or name == "column"}
    for name in ("heading", "date_heading"):
        if name in texts:
            texts[name] = " ".join(texts[name].split()).lower()
    values = given.get("values", {})
    if not isinstance(values, dict) or not all(isinstance(ours, str) for ours in values.values()):
        faults.append(f"{where}: values must be a table of words")
        values = {}
    return ColumnMap(**texts, values=tuple((theirs.strip().lower(), ours) for theirs, ours in values.items()))


def _list(given: dict[str, Any], name: str, where: str, faults: list[str]) -> list[dict[str, Any]]:
    value = given.get(name, [])
    if isinstance(value, list) and all(isinstance(each, dict) for each in value):
        return value
    faults.append(f"{where}: {name} must be written as [[{'tables' if name == 'tables' else 'tables.columns'}]]")
    return []


def _text(given: dict[str, Any], name: str, where: str, faults: list[str]) -> str:
    value = given.get(name)
    if isinstance(value, str):
        return value
    faults.append(f"{where}: {name} must be a text in quotes")
    return ""


def _unknown(given: dict[str, Any], known: Iterable[str], where: str) -> list[str]:
    known = tuple(known)
    return [f"{where}: {name!r} is no key (there are {', '.join(known)})" for name in given if name not in known]
