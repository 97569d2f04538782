"""The job-log tables in a file: as they stand, or by the mapping of a firm's own headings.

The same function serves a file about to be received and one received long ago, so that a batch can be
checked again from what was received: the mapping that was used lies beside its files.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path, PurePath

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Table
from pipeline.contract.findings import Finding
from pipeline.mapping.apply_mapping import apply_mapping, headed, maps_for
from pipeline.mapping.confirmed_mapping import Mapping
from pipeline.mapping.mapping_file import read_mapping
from pipeline.readers.csv_chunks import plain_csv
from pipeline.readers.files import FoundTable, find_in, left_aside
from pipeline.readers.parquet_slices import parquet_headings
from pipeline.readers.text_tables import LINE, TextTable, table_name
from pipeline.store.received import Batch

MAPPING_FILE = "mapping.toml"
"""Name under which the mapping of a batch, and of a book, is kept."""

_HINT = "`sludgebook map` proposes how its headings become the job log."


@dataclass(frozen=True, slots=True)
class TableSource:
    """One job-log table of a file; `quick_path` where the file can be read piece by piece as it stands."""

    table: Table
    file: str
    headings: tuple[str, ...]
    read: Callable[[], TextTable]
    quick_path: Path | None = None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class FileContents:
    """What one file holds: its job-log tables, whether the mapping was used, and what was left aside."""

    sources: tuple[TableSource, ...]
    used_mapping: bool
    findings: tuple[Finding, ...]


def file_contents(path: Path, shown: str, mapping: Mapping | None) -> FileContents:
    """The job-log tables of a file; BadInput in a sentence when it cannot be read or the mapping is open."""
    sources: list[TableSource] = []
    findings: list[Finding] = []
    used = False
    inside = find_in([path])
    every = inside.tables
    findings += [left_aside(shown + str(each.facts["file"]).removeprefix(path.name)) for each in inside.findings]
    uses = Counter((found.member, found.table) for found in every)
    for found in every:
        found = replace(found, name=shown + found.name.removeprefix(path.name))
        if not found.member and not found.sheet:  # the copy's name has a number before it where two files share one
            stem = PurePath(shown).stem
            found = replace(found, stem=stem, table=table_name(stem))
        if found.sheet and found.table and uses[found.member, found.table] == 1:
            found = replace(found, name=found.name.removesuffix(f"/{found.sheet}"))  # the table tells the sheet
        found = headed(mapping, found) if mapping is not None else found
        headings, read = _headings(found)
        maps = maps_for(mapping, found, headings) if mapping is not None else []
        if maps and mapping is not None:
            used = True
            sources += [part for each in apply_mapping(mapping, [found]) for part in _mapped(*each)]
        elif found.table is not None:
            quick = path if not found.member and not found.sheet and read is None else None
            text = read() if read else None
            notes = text.findings if text else ()
            sources.append(TableSource(JOB_LOG[found.table], found.name, headings, read or found.read, quick, notes))
        else:
            findings.append(replace(left_aside(found.name), by_command=_HINT))
    return FileContents(_told_apart(sources), used, tuple(findings))


def _headings(found: FoundTable) -> tuple[tuple[str, ...], Callable[[], TextTable] | None]:
    """Headings, without reading the rows where the file allows that; else with the text already read."""
    if not found.member and not found.sheet and not found.heading_line:
        plain = plain_csv(found.path)
        if plain is not None:
            return plain.headings, None
        if found.suffix == ".parquet":
            return parquet_headings(found.path, found.name), None
    text = found.read()
    return text.headings, lambda: text


def _mapped(table: str, file: str, text: TextTable) -> Iterator[TableSource]:
    """A table read by a mapping. Rows unfolded from one record share its line: each goes to a source of its own,
    so that a line names one row of a source."""
    nth = pl.int_range(pl.len()).over(LINE)
    parts = text.frame.with_columns(nth.alias("nth")).partition_by("nth", as_dict=True, include_key=False)
    for (number,), frame in sorted(parts.items()) or [((0,), text.frame)]:
        part = TextTable(frame, () if number else text.broken, () if number else text.findings)
        yield TableSource(JOB_LOG[table], file, text.headings, partial(_as_is, part), None, part.findings)


def _told_apart(sources: list[TableSource]) -> tuple[TableSource, ...]:
    """Sources of the same file and table numbered from the second on: `jobs sheet.xlsx [2]`."""
    uses: Counter[tuple[str, str]] = Counter()
    named = []
    for source in sources:
        uses[source.file, source.table.name] += 1
        nth = uses[source.file, source.table.name]
        named.append(replace(source, file=f"{source.file} [{nth}]") if nth > 1 else source)
    return tuple(named)


def _as_is(text: TextTable) -> TextTable:
    return text


def batch_sources(batch: Batch) -> Iterator[TableSource]:
    """The job-log tables of a received batch, in order: the first is source 1, and so on."""
    kept = batch.folder / MAPPING_FILE
    # what was received once stays readable, whatever was left open in its mapping when that was no fault yet
    mapping = replace(read_mapping(kept), open=()) if kept.is_file() else None
    for file in batch.files:
        if file.tables:
            yield from file_contents(batch.folder / file.stored, file.name, mapping).sources


def source_of(batch: Batch, file: str, table: str) -> TableSource:
    """One table of a received batch by the name its file is shown by; LookupError when there is none."""
    for source in batch_sources(batch):
        if (source.file, source.table.name) == (file, table):
            return source
    raise LookupError(f"batch {batch.batch_id} holds no table {table!r} of {file!r}")
