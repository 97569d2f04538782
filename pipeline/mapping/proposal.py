"""What is proposed for a firm's files: the mapping, and beside it the scores, samples and open questions."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import Finding
from pipeline.mapping.confirmed_mapping import NUMBER_PLACE, ColumnMap, Mapping, TableMap
from pipeline.mapping.heading_columns import WordFit


@dataclass(frozen=True, slots=True)
class ProposedColumn:
    """One heading of a source: the column proposed for it (empty for none), how sure, and what else it might be.

    `units` are those that the heading can mean: one where it is certain, several or none where it is asked.
    """

    heading: str
    samples: tuple[str, ...]
    column: str
    score: float
    units: tuple[str, ...]
    alternatives: tuple[tuple[str, float], ...]
    questions: tuple[str, ...]
    words: tuple[WordFit, ...]


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
        return tuple(c.name for c in JOB_LOG[self.mapped.table].columns if c.required and c.name not in given)


@dataclass(frozen=True, slots=True)
class Question:
    """Something only a person can answer: which source, table and heading (empty for the table as a whole)."""

    source: str
    table: str
    heading: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """The proposed mapping and everything a person needs to judge it."""

    mapping: Mapping
    tables: tuple[ProposedTable, ...]
    findings: tuple[Finding, ...]

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
    questions = []
    for name in table.missing:
        column = contract.column(name)
        constant = f" or constant = one of {', '.join(column.choices)}" if column.choices else ""
        questions.append(("", f"where does {name} ({column.meaning.lower()}) come from? heading = …{constant}"))
    for each in table.columns:
        if each.column or not each.samples:
            continue
        samples = ", ".join(map(repr, each.samples))
        near = ", ".join(f"{name} ({score:.2f})" for name, score in each.alternatives)
        if near:
            questions.append((each.heading, f"is {each.heading!r} ({samples}) one of {near}? it is left out till then"))
    return questions


def _of_columns(table: ProposedTable) -> list[tuple[str, str]]:
    return [(each.heading, question) for each in table.columns for question in each.questions]


def _notes(column: ProposedColumn) -> tuple[str, ...]:
    samples = ", ".join(map(repr, column.samples)) or "none"
    also = ", ".join(f"{name} {score:.2f}" for name, score in column.alternatives)
    notes = [f"score {column.score:.2f}; samples: {samples}" + (f"; could also be {also}" if also else "")]
    if words := [f"{w.word!r} {w.choice} {w.score:.2f}" for w in column.words if w.choice and w.word != w.choice]:
        notes.append(f"words: {', '.join(words)}")
    return tuple(notes)
