"""Found tables → job-log tables, by a confirmed mapping. Line numbers stay those of the source.

Every record of a source is a row of the first table made from it, or a broken row of it. A wide sheet is
unfolded: rows of one record then share its line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from pipeline.contract.findings import BadInput, Finding
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping, TableMap, mapping_faults, numbered, open_questions
from pipeline.mapping.mapped_cells import NUMERIC_DATE, cells
from pipeline.privacy.private_columns import OUTWARD, private_heading, private_values
from pipeline.readers.files import FoundTable
from pipeline.readers.text_tables import LINE, BrokenRow, TextTable

_ID_COLUMNS = ("firm_id", "job_id", "engineer_id")
_TEXT_SHOWN = 2000


class MappedTable(NamedTuple):
    """A job-log table, the file it came from as shown to people, and its rows as text."""

    table: str
    file: str
    text: TextTable


def apply_mapping(mapping: Mapping, found: Iterable[FoundTable]) -> list[MappedTable]:
    """Job-log tables out of found ones, by the mapping; a table that has the contract's headings needs none.

    A table map applies to the source of its name, else to any source that has all its headings. BadInput
    in one sentence for faults, for whatever is still to be said, and for a heading that is not there.
    """
    faults = mapping_faults(mapping)
    if faults:
        raise BadInput(f"The mapping cannot be used: {'; '.join(faults)}.")
    questions: list[str] = []
    mapped: list[MappedTable] = []
    for source in found:
        if not source.table and not mapping.tables:
            continue
        source = headed(mapping, source)
        text = source.read()
        maps = maps_for(mapping, source, text.headings)
        if maps:
            questions += [*open_questions(Mapping(tuple(maps))), *mapping.open]
            questions += [q for table_map in maps for q in _date_questions(table_map, source, text)]
            if not questions:
                mapped += _mapped(maps, source, text)
        elif source.table:
            mapped.append(MappedTable(source.table, source.name, text))
    if questions:
        raise BadInput(f"The mapping leaves {_count(questions)} open: {' '.join(dict.fromkeys(questions))}")
    return mapped


def _count(questions: Sequence[str]) -> str:
    number = len(dict.fromkeys(questions))
    return "one question" if number == 1 else f"{number} questions"


def headed(mapping: Mapping, source: FoundTable) -> FoundTable:
    """The source with its headings on the line that the mapping says: that of its name, else one on which all the
    headings of a table map stand."""
    names = {source.name.lower(), source.stem.lower()}
    by_name = [each for each in mapping.tables if each.source.lower() in names]
    for each in by_name or [each for each in mapping.tables if each.heading_line and _needed(each)]:
        told = replace(source, heading_line=each.heading_line)
        if by_name or _has(told, _needed(each)):
            return told
    return source


def _has(source: FoundTable, needed: set[str]) -> bool:
    try:
        return needed <= set(source.read().headings)
    except BadInput:
        return False


def maps_for(mapping: Mapping, source: FoundTable, headings: Iterable[str]) -> list[TableMap]:
    """The table maps that apply to a source: those of its name, else those whose headings it has.

    A heading that is a column of the contract already needs no mapping and is added.
    """
    there = set(headings)
    fitting = [each for each in mapping.tables if _needed(each) and _needed(each) <= there]
    names = {source.name.lower(), source.stem.lower()}
    by_name = [each for each in mapping.tables if each.source.lower() in names]
    if is_contract(source, there) and not any(each in fitting for each in by_name):
        return []
    return [_completed(each, there) for each in by_name or fitting]


def _completed(table_map: TableMap, there: set[str]) -> TableMap:
    if table_map.numbers:
        return table_map
    given = {mapped.column for mapped in table_map.columns}
    own = [name for name in JOB_LOG[table_map.table].names if name in there and name not in given]
    used = {heading for mapped in table_map.columns for heading in mapped.headings}
    extra = tuple(ColumnMap(name, heading=name) for name in own if name not in used)
    return replace(table_map, columns=(*table_map.columns, *extra))


def is_contract(source: FoundTable, headings: Iterable[str]) -> bool:
    """Whether a source is a job-log table as it stands: its name is one, and every required column is there."""
    if source.table is None:
        return False
    return not JOB_LOG[source.table].missing(set(headings))


def _needed(table_map: TableMap) -> set[str]:
    first = table_map.numbers[0] if table_map.numbers else None
    return {numbered(heading, first) for heading in table_map.headings}


def _date_questions(table_map: TableMap, source: FoundTable, text: TextTable) -> list[str]:
    questions = []
    for mapped in table_map.columns:
        if JOB_LOG[table_map.table].column(mapped.column).kind not in ("date", "time") or mapped.dates:
            continue
        for heading in (numbered(h, n) for h in mapped.headings for n in table_map.numbers or (None,)):
            if heading in text.headings and text.frame[heading].str.contains(NUMERIC_DATE).any():
                questions.append(
                    f"is the day or the month first in {heading!r} of {source.name} "
                    f'(dates = "dmy" or "mdy" for {mapped.column})?'
                )
                break
    return questions


def _mapped(maps: list[TableMap], source: FoundTable, text: TextTable) -> list[MappedTable]:
    used = {numbered(h, n) for each in maps for h in each.headings for n in each.numbers or (None,)}
    notes = (*text.findings, *_left_out(source, text.headings, used))
    tables: dict[str, list[TextTable]] = {}
    for each in maps:
        tables.setdefault(each.table, []).append(_table(each, source, text))
    result = []
    for index, (name, parts) in enumerate(tables.items()):
        frame = pl.concat([part.frame for part in parts], how="diagonal")
        broken = [row for part in parts for row in part.broken] + ([] if index else list(text.broken))
        found = [finding for part in parts for finding in part.findings]
        ordered = tuple(sorted(broken, key=lambda row: row.line))
        frame = frame.sort(LINE, maintain_order=True) if len(parts) > 1 else frame
        result.append(MappedTable(name, source.name, TextTable(frame, ordered, (*(() if index else notes), *found))))
    return result


def _left_out(source: FoundTable, headings: Iterable[str], used: set[str]) -> list[Finding]:
    findings = []
    for heading in headings:
        if heading in used:
            continue
        is_private = private_heading(heading)
        what = "looks private and is never loaded" if is_private else "is not mapped"
        sentence = f"Column {heading!r} of {source.name} {what}; it stays in the received file only."
        code = "private_column" if is_private else "unmapped_column"
        findings.append(Finding(code, sentence, {"file": source.name, "column": heading}))
    return findings


def _table(table_map: TableMap, source: FoundTable, text: TextTable) -> TextTable:
    """One table map's rows; for a numbered one those of every number, in the order of lines."""
    parts: list[pl.DataFrame] = []
    broken: list[BrokenRow] = []
    findings: dict[str, Finding] = {}
    for number in table_map.numbers or (None,):
        part = _part(table_map, source, text, number)
        parts.append(part.frame)
        broken += part.broken
        findings |= {finding.sentence: finding for finding in part.findings}
    frame = pl.concat(parts)
    frame = frame.sort(LINE, maintain_order=True) if len(parts) > 1 else frame
    return TextTable(frame, tuple(broken), tuple(findings.values()))


def _part(table_map: TableMap, source: FoundTable, text: TextTable, number: int | None) -> TextTable:
    contract, frame = JOB_LOG[table_map.table], text.frame
    columns, findings = _present(table_map, source, text, number)
    if number is not None:
        own = [
            numbered(heading, number)
            for heading in table_map.headings
            if numbered(heading, number) != heading and numbered(heading, number) in frame.columns
        ]
        frame = frame.filter(pl.any_horizontal([_filled(heading) for heading in own])) if own else frame.clear()
    selected, misread = [pl.col(LINE)], {}
    for mapped in columns:
        if mapped.constant:
            selected.append(pl.lit(numbered(mapped.constant, number)).alias(mapped.column))
            continue
        column, heading = contract.column(mapped.column), numbered(mapped.heading, number)
        made = cells(column, mapped, heading, numbered(mapped.date_heading, number))
        selected.append(made.text.alias(mapped.column))
        misread[heading] = made.misread
    marks = frame.select(mark.alias(heading) for heading, mark in misread.items()) if misread else pl.DataFrame()
    bad = marks.select(pl.any_horizontal(pl.all())).to_series() if marks.width and marks.height else None
    converted = frame.select(selected)
    names = [*(c.column for c in table_map.columns if c.column in converted.columns), LINE]
    if bad is None or not bad.any():
        return TextTable(converted.select(names), (), findings)
    pairs = zip(frame.filter(bad).to_dicts(), marks.filter(bad).to_dicts(), strict=True)
    broken = tuple(_misread_row(row, mark) for row, mark in pairs)
    return TextTable(converted.filter(~bad).select(names), broken, findings)


def _filled(heading: str) -> pl.Expr:
    return pl.col(heading).str.strip_chars().str.len_chars().fill_null(0) > 0


def _misread_row(row: dict[str, object], marks: dict[str, bool]) -> BrokenRow:
    told = [f"{row[heading]!r} in {heading!r}" for heading, is_bad in marks.items() if is_bad]
    line = row.pop(LINE)
    shown = ", ".join("" if cell is None else str(cell) for cell in row.values())
    reason = f"not a number as the mapping writes them: {', '.join(told)}"
    return BrokenRow(int(str(line)), shown[:_TEXT_SHOWN], reason[:_TEXT_SHOWN])


def _present(
    table_map: TableMap, source: FoundTable, text: TextTable, number: int | None
) -> tuple[list[ColumnMap], tuple[Finding, ...]]:
    """The column maps whose headings are there and not private; BadInput when a required one is missing."""
    contract = JOB_LOG[table_map.table]
    present, missing, findings = [], [], []
    for mapped in table_map.columns:
        column = contract.column(mapped.column)
        absent = [h for h in (numbered(h, number) for h in mapped.headings) if h not in text.headings]
        if not absent:
            what = _private(column, mapped, text, number)
            if not what:
                present.append(mapped)
                continue
            heading = numbered(mapped.heading, number)
            if column.required:
                raise BadInput(
                    f"Column {heading!r} of {source.name} holds {what}, which are never loaded, but {column.name} is "
                    "needed; give each an id of its own."
                )
            sentence = f"Column {heading!r} of {source.name} holds {what} and is not loaded."
            findings.append(Finding("private_column", sentence, {"file": source.name, "column": heading}))
        elif column.required and number in (None, *table_map.numbers[:1]):
            missing += absent
        else:
            sentence = f"{source.name} has no column {absent[0]!r}; {mapped.column} stays empty."
            findings.append(Finding("mapped_heading_missing", sentence, {"file": source.name, "column": absent[0]}))
    if missing:
        raise BadInput(
            f"{source.name} has no column {', '.join(map(repr, dict.fromkeys(missing)))}, which the mapping to "
            f"{table_map.table} needs."
        )
    return present, tuple(findings)


def _private(column: Column, mapped: ColumnMap, text: TextTable, number: int | None) -> str:
    """What is private in the cells of a heading mapped to free text or an id; empty where nothing is."""
    if column.kind != "text" or not mapped.heading:
        return ""
    values = text.frame[numbered(mapped.heading, number)]
    if column.name == "postcode_district":
        inside = values.drop_nulls().str.strip_chars().str.contains(OUTWARD).all()
        return "" if inside else "more than the outward part of postcodes"
    return private_values(values, is_id=column.name in _ID_COLUMNS)
