"""What a column and a table are: the vocabulary in which the contract is written."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "integer", "number", "yes_no", "choice", "date", "time"]
KnownBy = Literal["key", "survey", "plan", "during", "after"]

DUCKDB_TYPES: dict[str, str] = {
    "text": "VARCHAR",
    "choice": "VARCHAR",
    "integer": "BIGINT",
    "number": "DOUBLE",
    "yes_no": "BOOLEAN",
    "date": "DATE",
    "time": "TIMESTAMP",
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: name, kind, unit, meaning, and the values it may hold.

    `low`..`high` reject outside (inclusive); `warn_low`~`warn_high` load with a warning; `choices`
    are the only words allowed; `rule` says in words what other rows or columns demand of it.
    `known_by` is the moment at which the value is known: a quote reads `survey` and `plan` only. A `required` value
    may be empty where one of the columns `unless` is given.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    known_by: KnownBy = "survey"
    required: bool = False
    unless: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    warn_low: float | None = None
    warn_high: float | None = None
    choices: tuple[str, ...] = ()
    rule: str = ""

    @property
    def label(self) -> str:
        """Axis title or table heading: meaning with its unit in brackets."""
        return f"{self.meaning} [{self.unit}]" if self.unit else self.meaning

    @property
    def dtype(self) -> str:
        """The DuckDB type that holds it."""
        return DUCKDB_TYPES[self.kind]

    @property
    def allowed(self) -> str:
        """Allowed values as one short text, for documents and templates."""
        parts = []
        if self.choices:
            parts.append(", ".join(self.choices))
        if self.low is not None or self.high is not None:
            parts.append(f"{_bound(self.low)}..{_bound(self.high)}")
        if self.warn_low is not None or self.warn_high is not None:
            parts.append(f"{_bound(self.warn_low)}~{_bound(self.warn_high)}")
        if self.kind == "yes_no":
            parts.append("yes, no")
        if self.unless:
            parts.append(f"may be empty where {_any_of(self.unless)} is given")
        if self.rule:
            parts.append(self.rule)
        return "; ".join(parts)


def _any_of(names: tuple[str, ...]) -> str:
    *others, last = names
    return f"{', '.join(others)} or {last}" if others else last


def _bound(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its grain in words, its key, its columns in order; `rules` in words that no single column tells."""

    name: str
    grain: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    optional: bool = False
    rules: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(column.name for column in self.columns)

    def missing(self, given: Container[str]) -> tuple[str, ...]:
        """Required columns that are not among those given, and that none of those given makes up for."""
        return tuple(
            column.name
            for column in self.columns
            if column.required and column.name not in given and not any(name in given for name in column.unless)
        )

    def column(self, name: str) -> Column:
        """The column of that name; KeyError names the valid ones."""
        for candidate in self.columns:
            if candidate.name == name:
                return candidate
        raise KeyError(f"table {self.name!r} has no column {name!r}; it has {', '.join(self.names)}")


def row_key(table: Table) -> tuple[str, ...]:
    """What names a row within its job: the key without firm and job; of a job itself, `job_id`."""
    return table.key[2:] or table.key[-1:]
