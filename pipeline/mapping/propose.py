"""Foreign headings → a proposed mapping, with scores, samples, and a question for whatever cannot be told.

Nothing is guessed in silence: what is proposed carries its score, what is uncertain is left out of the
mapping and asked, and what looks private is reported and never proposed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput, Finding
from pipeline.mapping.apply_mapping import is_contract
from pipeline.mapping.confirmed_mapping import NUMBER_PLACE, ColumnMap, Mapping, TableMap, numbered
from pipeline.mapping.heading_columns import Drafted, Surroundings, draft
from pipeline.mapping.heading_doubts import STATE_WORDS
from pipeline.mapping.heading_match import LIKELY, POSSIBLE, Fit, fits, likeliest, table_score
from pipeline.mapping.proposal import NotTaken, Proposal, ProposedColumn, ProposedTable, Question
from pipeline.mapping.settled_columns import Settled, settled
from pipeline.mapping.trade_words import likeness, phrases_of, tokens
from pipeline.mapping.value_shapes import Shape, shape_of
from pipeline.mapping.wide_headings import Group, groups, numbered_headings
from pipeline.privacy.private_columns import is_outward_only, private_heading
from pipeline.readers.files import WORKBOOKS, FoundTable
from pipeline.readers.text_tables import LINE, TextTable

MAX_HEADINGS = 1000
"""Headings of one source that are looked at; the widest honest sheet has a few hundred."""

__all__ = ["MAX_HEADINGS", "Proposal", "ProposedColumn", "ProposedTable", "Question", "propose"]

_KEYS = {"catches": "catch_no", "emitters": "emitter_no"}
_FEWEST_COLUMNS = 2
_UNNAMED = re.compile(r"^\(column \d+\)$")
_FIGURE = re.compile(r"\d{3}|^\d")


@dataclass(frozen=True, slots=True)
class _Source:
    """A source while it is looked at: its name in the mapping, its columns, what is private in it."""

    found: FoundTable
    name: str
    shapes: dict[str, Shape]
    grouped: dict[str, Shape]
    templates: dict[str, tuple[int, ...]]
    private: dict[str, str]


def propose(found: Iterable[FoundTable]) -> Proposal:
    """Propose a mapping for every found table that is not the contract's already."""
    sources = list(found)
    stems = Counter(source.stem.lower() for source in sources)
    tables: list[ProposedTable] = []
    findings: list[Finding] = []
    private: list[NotTaken] = []
    for source in sources:
        try:
            text = source.read()
        except BadInput as error:
            findings.append(Finding("table_unreadable", str(error), {"file": source.name}))
            continue
        if is_contract(source, text.headings):
            continue
        name = source.stem if stems[source.stem.lower()] == 1 else source.name
        looked = _look(source, name, text)
        findings += [*text.findings, *_private_findings(looked), *_second_heading_row(source, text)]
        private += [NotTaken(source.name, "", h, (), "private", (), what) for h, what in looked.private.items()]
        proposed = _proposed(looked)
        tables += proposed
        if not proposed:
            sentence = f"{source.name} was not recognised as any table of the job log; map it by hand or leave it out."
            findings.append(Finding("table_not_recognised", sentence, {"file": source.name}))
    return Proposal(Mapping(tuple(table.mapped for table in tables)), tuple(tables), tuple(findings), tuple(private))


def _second_heading_row(source: FoundTable, text: TextTable) -> list[Finding]:
    """Say where the row below the headings looks like the headings: columns without one, and words in all of them."""
    unnamed = [heading for heading in text.headings if _UNNAMED.match(heading)]
    if source.heading_line or not unnamed or not text.frame.height:
        return []
    first = text.frame.row(0, named=True)
    cells = [str(first[heading]) for heading in text.headings if first[heading]]
    is_named = all(first[heading] is not None for heading in unnamed)
    if len(cells) < _FEWEST_COLUMNS or not is_named or any(map(_FIGURE.search, cells)):
        return []
    line = int(first[LINE])
    sentence = (
        f"{source.name} seems to have two rows of headings; if they stand on line {line}, say so: heading_line = "
        f"{line} in the mapping, or `sludgebook map … --heading-line {line}` for a proposal by them."
    )
    return [Finding("two_heading_rows", sentence, {"file": source.name, "line": line})]


def _look(source: FoundTable, name: str, text: TextTable) -> _Source:
    headings = text.headings[:MAX_HEADINGS]
    shapes = {heading: shape_of(heading, text.frame[heading]) for heading in headings}
    private = {heading: what for heading, shape in shapes.items() if (what := _private(shape))}
    templates = numbered_headings(heading for heading in headings if heading not in private)
    grouped = {}
    for template, numbers in templates.items():
        own = [text.frame[numbered(template, n)] for n in numbers]
        grouped[template] = shape_of(template, pl.concat([series.alias("c") for series in own]))
    members = {numbered(template, n) for template, numbers in templates.items() for n in numbers}
    rest = {heading: shape for heading, shape in shapes.items() if heading not in private and heading not in members}
    return _Source(source, name, rest, grouped, templates, private)


def _private(shape: Shape) -> str:
    """What is private in a column; an outward postcode and an e-mail that serves as an id are not."""
    if shape.private == "e-mail addresses" and likeness(shape.heading, phrases_of("engineer_id")) >= LIKELY:
        return ""
    if shape.private:
        return shape.private
    if private_heading(shape.heading) and not (shape.filled and is_outward_only(shape.words)):
        return "people or places, by its heading"
    return ""


def _private_findings(source: _Source) -> list[Finding]:
    return [
        Finding(
            "private_column",
            f"Column {heading!r} of {source.found.name} looks private ({what}) and is never loaded.",
            {"file": source.found.name, "column": heading},
        )
        for heading, what in source.private.items()
    ]


def _proposed(source: _Source) -> list[ProposedTable]:
    """The main table of a source and the tables that its numbered headings unfold into."""
    found = groups(source.grouped, source.templates)
    table, candidates = _main_table(source, is_wide=bool(found))
    if not table:
        return []
    decided = settled(candidates)
    around = _surroundings(source, decided.taken)
    main = _main(source, table, decided, candidates, around)
    taken: Counter[str] = Counter()
    children = []
    for group in found:
        children.append(_child(source, group, decided.taken, around, taken[group.table]))
        taken[group.table] += 1
    return [main, *children]


def _main_table(source: _Source, *, is_wide: bool) -> tuple[str, list[Fit]]:
    allowed = [source.found.table] if source.found.table else ["jobs"] if is_wide else list(JOB_LOG)
    best: tuple[float, str, list[Fit]] = (0.0, "", [])
    for table in allowed:
        candidates = fits(source.shapes.values(), table)
        chosen = likeliest(candidates)
        score = table_score(table, chosen, len(source.shapes), source.found.stem)
        if score > best[0] and len(chosen) >= _FEWEST_COLUMNS:
            best = (score, table, candidates)
    return best[1:]


def _surroundings(source: _Source, chosen: dict[str, Fit]) -> Surroundings:
    days = [shape for shape in source.shapes.values() if max(shape.dates, shape.serials) >= 0.8]
    named = [s for s in days if s.heading in chosen and chosen[s.heading].column in ("visit_date", "called_back_on")]
    worded = [s for s in days if tokens(s.heading) & tokens("date day datum tag")]
    candidates = named or worded or days
    marks = set()
    for shape in (*source.shapes.values(), *source.grouped.values()):
        if shape.numbers >= 0.8 and not shape.is_mark_open and any(shape.decimal in word for word in shape.words):
            marks.add(shape.decimal)
    return Surroundings(
        candidates[0] if len(candidates) == 1 else None,
        source.found.suffix in WORKBOOKS,
        source.found.counts_from_1904,
        marks.pop() if len(marks) == 1 else "",
    )


def _main(source: _Source, table: str, decided: Settled, candidates: list[Fit], around: Surroundings) -> ProposedTable:
    contract = JOB_LOG[table]
    columns, maps = [], []
    for heading, shape in source.shapes.items():
        mine = decided.taken.get(heading)
        near = [each for each in candidates if each.heading == heading and each is not mine and each.score >= POSSIBLE]
        drafted = draft(mine, shape, contract.column(mine.column), around) if mine else None
        options = _options(heading, decided, shape, table, around)
        also = tuple((each.column, each.score) for each in near[:3])
        columns.append(_column(shape, mine, drafted, also, options, decided.why.get(heading, "")))
        if drafted:
            maps.append(drafted.mapped)
    maps += _state_of_weighing(table, maps)
    order = {name: index for index, name in enumerate(contract.names)}
    maps.sort(key=lambda mapped: order[mapped.column])
    return ProposedTable(
        source.found.name, TableMap(source.name, table, tuple(maps), (), source.found.heading_line), tuple(columns)
    )


def _column(
    shape: Shape,
    mine: Fit | None,
    drafted: Drafted | None,
    also: tuple[tuple[str, float], ...],
    options: tuple[Drafted, ...],
    why: str,
) -> ProposedColumn:
    return ProposedColumn(
        shape.heading,
        shape.samples,
        mine.column if mine else "",
        mine.score if mine else 0.0,
        mine.units if mine else (),
        also,
        drafted.questions if drafted else (),
        drafted.words if drafted else (),
        options,
        "" if mine else why,
    )


def _options(heading: str, decided: Settled, shape: Shape, table: str, around: Surroundings) -> tuple[Drafted, ...]:
    """What a heading that is asked about would be, for each column that it may be."""
    return tuple(
        draft(each, shape, JOB_LOG[table].column(each.column), around) for each in decided.asked.get(heading, ())
    )


def _state_of_weighing(table: str, maps: list[ColumnMap]) -> list[ColumnMap]:
    """A heading such as `dry weight` says how all its catches were weighed."""
    if table != "catches" or any(mapped.column == "weighed" for mapped in maps):
        return []
    words = {word for mapped in maps if mapped.column == "mass_g" for word in tokens(mapped.heading)}
    told = {STATE_WORDS[word] for word in words & STATE_WORDS.keys()}
    return [ColumnMap("weighed", constant=told.pop())] if len(told) == 1 else []


def _child(source: _Source, group: Group, jobs: dict[str, Fit], around: Surroundings, earlier: int) -> ProposedTable:
    """A group of numbered headings as a table of its own; a second group of the same table counts from 101."""
    contract = JOB_LOG[group.table]
    maps = [
        ColumnMap(mine.column, heading)
        for heading, mine in jobs.items()
        if mine.column in ("firm_id", "job_id") and mine.column in contract.names
    ]
    place = NUMBER_PLACE if not earlier else f"{earlier}0{NUMBER_PLACE}"
    maps.append(ColumnMap(_KEYS[group.table], constant=place))
    columns = []
    for template, shape in group.shapes.items():
        mine = group.settled.taken.get(template)
        if mine and mine.column == _KEYS[group.table]:
            mine = None
        options = _options(template, group.settled, shape, group.table, around)
        options = tuple(each for each in options if each.mapped.column != _KEYS[group.table])
        drafted = draft(mine, shape, contract.column(mine.column), around) if mine else None
        columns.append(_column(shape, mine, drafted, (), options, group.settled.why.get(template, "")))
        if drafted:
            maps.append(drafted.mapped)
    if group.trap and not any(mapped.column == "trap" for mapped in maps):
        maps.append(ColumnMap("trap", constant=group.trap))
    maps += _state_of_weighing(group.table, maps)
    order = {name: index for index, name in enumerate(contract.names)}
    maps.sort(key=lambda mapped: order[mapped.column])
    mapped = TableMap(source.name, group.table, tuple(maps), group.numbers, source.found.heading_line)
    return ProposedTable(source.found.name, mapped, tuple(columns))
