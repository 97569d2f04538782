"""What is proposed for a firm's files: the mapping, and beside it the scores, samples and open questions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import Finding
from pipeline.mapping.confirmed_mapping import NUMBER_PLACE, ColumnMap, Mapping, TableMap
from pipeline.mapping.heading_columns import Drafted, WordFit


@dataclass(frozen=True, slots=True)
class ProposedColumn:
    """One heading of a source: the column proposed for it (empty for none), how sure, and what else it might be.

    `units` are those that the heading can mean: one where it is certain, several or none where it is asked. For a
    heading that is not taken `options` are the columns that a person is asked about, `why` says why, in a clause.
    """

    heading: str
    samples: tuple[str, ...]
    column: str
    score: float
    units: tuple[str, ...]
    alternatives: tuple[tuple[str, float], ...]
    questions: tuple[str, ...]
    words: tuple[WordFit, ...]
    options: tuple[Drafted, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class ProposedTable:
    """One table of the job log proposed out of one source, with a line for each heading that belongs to it."""

    file: str
    mapped: TableMap
    columns: tuple[ProposedColumn, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """Required columns for which no heading was found."""
        given = {column.column for column in self.mapped.columns}
        return JOB_LOG[self.mapped.table].missing(given)


@dataclass(frozen=True, slots=True)
class Question:
    """Something only a person can answer: which source, table and heading (empty for the table as a whole)."""

    source: str
    table: str
    heading: str
    sentence: str


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A heading that is not in the mapping: its first values (none where they are private), whether a person is `asked`
    about it or it was `left out`, the columns that it may be, and why, in a clause."""

    file: str
    table: str
    heading: str
    samples: tuple[str, ...]
    state: Literal["asked", "left out", "private"]
    may_be: tuple[str, ...]
    why: str

    @property
    def sentence(self) -> str:
        """The whole of it in one line."""
        values = f" ({', '.join(self.samples)})" if self.samples else ""
        may_be = f"; may be {' or '.join(self.may_be)}" if self.may_be else ""
        return f"{self.state}: {self.heading!r}{values}: {self.why}{may_be}"


def not_taken_of(table: ProposedTable) -> list[NotTaken]:
    """The headings of one table that are not in its mapping, as they stand in the source; a day's heading that other
    columns read is in it."""
    used = set(table.mapped.headings)
    return [
        NotTaken(
            table.file,
            table.mapped.table,
            each.heading,
            each.samples,
            "asked" if each.options else "left out",
            tuple(option.mapped.column for option in each.options),
            each.why or "like no column of the job log",
        )
        for each in table.columns
        if not each.column and each.heading not in used
    ]


@dataclass(frozen=True, slots=True)
class Proposal:
    """The proposed mapping and everything a person needs to judge it."""

    mapping: Mapping
    tables: tuple[ProposedTable, ...]
    findings: tuple[Finding, ...]
    private: tuple[NotTaken, ...] = ()

    @property
    def not_taken(self) -> tuple[NotTaken, ...]:
        """Every heading that is not in the mapping, asked or left out or private, table by table."""
        return tuple(each for table in self.tables for each in not_taken_of(table)) + self.private

    @property
    def questions(self) -> tuple[Question, ...]:
        """All open questions, table by table."""
        return tuple(
            Question(table.mapped.source, table.mapped.table, heading, sentence)
            for table in self.tables
            for heading, sentence in [*_of_table(table), *_of_columns(table)]
        )

    def remarks(self) -> tuple[str, ...]:
        """What was found about the files as a whole, a sentence each."""
        return tuple(finding.sentence for finding in self.findings)

    def questions_of(self, table: TableMap, column: ColumnMap | None = None) -> tuple[str, ...]:
        """Open questions of a table as a whole, or of one of its columns."""
        proposed = self._table(table)
        if proposed is None:
            return ()
        if column is None:
            return tuple(sentence for _, sentence in _of_table(proposed))
        return tuple(q for each in proposed.columns if each.heading == column.heading for q in each.questions)

    def options_of(self, table: TableMap) -> tuple[ColumnMap, ...]:
        """What the headings that are asked about would be, as lines of the mapping."""
        proposed = self._table(table)
        found = proposed.columns if proposed else ()
        return tuple(option.mapped for each in found for option in each.options)

    def left_out_of(self, table: TableMap) -> tuple[NotTaken, ...]:
        """The headings of a table that are left out without a question."""
        proposed = self._table(table)
        return tuple(each for each in (not_taken_of(proposed) if proposed else ()) if each.state == "left out")

    def notes_of(self, table: TableMap, column: ColumnMap) -> tuple[str, ...]:
        """Score, samples and alternatives of a mapped column, a line each; for a constant, that it was read off."""
        if column.constant:
            return () if NUMBER_PLACE in column.constant else ("read off the words of the headings",)
        proposed = self._table(table)
        for each in proposed.columns if proposed else ():
            if each.heading == column.heading and each.column == column.column:
                return _notes(each)
        return ()

    def _table(self, table: TableMap) -> ProposedTable | None:
        return next((each for each in self.tables if each.mapped == table), None)


def _of_table(table: ProposedTable) -> list[tuple[str, str]]:
    contract = JOB_LOG[table.mapped.table]
    named = {option.mapped.column for each in table.columns for option in each.options}
    questions = []
    for name in table.missing:
        if name in named:
            continue  # asked with the heading that it may be
        column = contract.column(name)
        constant = f" or constant = one of {', '.join(column.choices)}" if column.choices else ""
        questions.append(("", f"where does {name} ({column.meaning.lower()}) come from? heading = …{constant}"))
    return questions + [(each.heading, _which(each)) for each in table.columns if each.options]


def _which(column: ProposedColumn) -> str:
    samples = ", ".join(map(repr, column.samples)) or "no values"
    names = [option.mapped.column for option in column.options]
    near = f"{names[0]}, or none" if len(names) == 1 else f"one of {', '.join(names)}, or none"
    return f"is {column.heading!r} ({samples}) {near}? {column.why}"


def _of_columns(table: ProposedTable) -> list[tuple[str, str]]:
    return [(each.heading, question) for each in table.columns for question in each.questions]


def _notes(column: ProposedColumn) -> tuple[str, ...]:
    samples = ", ".join(map(repr, column.samples)) or "none"
    also = ", ".join(f"{name} {score:.2f}" for name, score in column.alternatives)
    notes = [f"score {column.score:.2f}; samples: {samples}" + (f"; could also be {also}" if also else "")]
    if words := [f"{w.word!r} {w.choice} {w.score:.2f}" for w in column.words if w.choice and w.word != w.choice]:
        notes.append(f"words: {', '.join(words)}")
    return tuple(notes)
