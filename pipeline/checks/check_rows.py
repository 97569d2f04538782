"""Rows → accepted or rejected, each fault with file, line, column, value and reason.

What one file alone can tell is judged here: types, ranges, words, rules between the columns of a row,
and two versions of a row in one file. What needs other tables (is the job known, is the time within the
visit) is judged by the build, because it changes as more files arrive.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

import polars as pl

from pipeline.checks.catch_numbers import number_by_time
from pipeline.checks.row_rules import Rule, between_rules, between_warnings, column_rules, typed, warning_rules
from pipeline.contract import DEFAULT_FIRM_ID, JOB_LOG
from pipeline.contract.columns import Column, Table, row_key
from pipeline.contract.findings import BadInput, Finding
from pipeline.privacy.private_columns import private_heading
from pipeline.readers.text_tables import LINE, BrokenRow, TextTable

FAULT_SCHEMA = {
    "file": pl.String,
    "table_name": pl.String,
    "line": pl.Int64,
    "column_name": pl.String,
    "value": pl.String,
    "reason": pl.String,
    "firm_id": pl.String,
    "job_id": pl.String,
}
CONTENT = "content"
REJECT_HEADINGS = ("line", f"({LINE})", "reason")
"""What the rejects workbook writes beside a row: outside the format, and known to be."""


@dataclass(frozen=True, slots=True)
class CheckedTable:
    """One table of one file, judged: typed accepted rows, faults, warnings, and the count of its rows."""

    table: str
    file: str
    rows: int
    accepted: pl.DataFrame
    rejects: pl.DataFrame
    warnings: pl.DataFrame


def heading_findings(table: str, file: str, headings: tuple[str, ...]) -> tuple[Finding, ...]:
    """Report columns outside the contract; BadInput when a required column is missing.

    Columns that look private are named as such; neither kind is ever loaded.
    """
    contract = JOB_LOG[table]
    missing = contract.missing(headings)
    if missing:
        raise BadInput(
            f"{file} has no column {', '.join(repr(name) for name in missing)}, which every {table} table needs.",
            "`sludgebook format` prints the columns.",
        )
    findings = []
    for name in headings:
        if name in contract.names or name in REJECT_HEADINGS:
            continue
        code = "private_column" if private_heading(name) else "unknown_column"
        what = "looks private and is never loaded" if code == "private_column" else "is outside the format"
        sentence = f"Column {name!r} of {file} {what}; it stays in the received file only."
        findings.append(Finding(code, sentence, {"file": file, "table": table, "column": name}))
    return tuple(findings)


def check_rows(contract: Table, file: str, text: TextTable, today: date, *, is_request: bool = False) -> CheckedTable:
    """Judge the rows of one table of one file, each by itself. `today`: no visit may lie after it.

    A request (`is_request`) is a job still to be done: its visit may lie ahead or be empty, and it has
    no flush times.
    """
    raw = _contract_text(contract, text.frame).rechunk()
    types, rules, doubts = _judgement(contract.name, None if is_request else today)
    frame = raw.with_columns(types)
    faults = pl.concat([_faults(frame, rules, contract.name, file), _broken(text.broken, contract.name, file)])
    good = frame.filter(~pl.col(LINE).is_in(faults["line"].unique().implode()))
    accepted = good.select(*(pl.col(_typed(c)).alias(c.name) for c in contract.columns), pl.col(LINE))
    warnings = pl.concat(
        [_faults(good, doubts, contract.name, file), *_left_out(good, text.left_out, contract.name, file)]
    )
    return CheckedTable(contract.name, file, text.rows, accepted, faults.sort("line", "column_name"), warnings)


def check_table(table: str, file: str, text: TextTable, today: date, *, is_request: bool = False) -> CheckedTable:
    """Judge one table of one file whole: its rows, and keys that stand twice with different content."""
    contract = JOB_LOG[table]
    checked = check_rows(contract, file, text, today, is_request=is_request)
    twice = conflicts(contract, file, checked.accepted)
    kept = ~pl.col(LINE).is_in(twice["line"].implode())
    rejects = pl.concat([checked.rejects, twice]).sort("line", "column_name")
    return replace(
        checked, accepted=checked.accepted.filter(kept), rejects=rejects, warnings=checked.warnings.filter(kept)
    )


@lru_cache(maxsize=32)
def _judgement(table: str, received_on: date | None) -> tuple[list[pl.Expr], list[Rule], list[Rule]]:
    """What types the cells of a table, the rules of its rows and the doubts about them; kept, as a request is judged in
    less time than they are written in. `received_on`: None for a job to be done."""
    contract = JOB_LOG[table] if received_on else _as_request(JOB_LOG[table])
    types = [typed(column).alias(_typed(column)) for column in contract.columns]
    rules = [rule for column in contract.columns for rule in column_rules(column, _typed(column))]
    rules += between_rules(table, received_on, _TYPED_PREFIX)
    doubts = warning_rules(contract.columns, _TYPED_PREFIX) + between_warnings(table, received_on, _TYPED_PREFIX)
    return types, rules, doubts


_TYPED_PREFIX = "typed:"
_NOT_YET_KNOWN = ("visit_date", "flush_started_at", "flush_ended_at")


def _as_request(table: Table) -> Table:
    columns = tuple(replace(c, required=False) if c.name in _NOT_YET_KNOWN else c for c in table.columns)
    return replace(table, columns=columns)


def _typed(column: Column) -> str:
    return _TYPED_PREFIX + column.name


def _contract_text(contract: Table, frame: pl.DataFrame) -> pl.DataFrame:
    """The contract's columns as trimmed text, absent ones empty, the firm filled in."""
    columns = [
        (pl.col(name) if name in frame.columns else pl.lit(None, pl.String))
        .str.strip_chars()
        .replace("", None)
        .alias(name)
        for name in contract.names
    ]
    whole = frame.select(pl.col(LINE), *columns).with_columns(pl.col("firm_id").fill_null(DEFAULT_FIRM_ID))
    return number_by_time(whole) if contract.name == "catches" else whole


def _faults(frame: pl.DataFrame, rules: list[Rule], table: str, file: str) -> pl.DataFrame:
    """One row for each rule that a record breaks."""
    found = [pl.DataFrame(schema=FAULT_SCHEMA)]
    if rules and frame.height:
        broken = frame.select(rule.broken.fill_null(value=False).alias(str(i)) for i, rule in enumerate(rules))
        for index, rule in enumerate(rules):
            mask = broken[str(index)]
            if mask.any():
                value = pl.col(rule.column).cast(pl.String).alias("value")
                hit = frame.filter(mask).select(LINE, value, "firm_id", "job_id")
                found.append(_fault_rows(hit, table, file, rule.column, rule.reason))
    return pl.concat(found)


def _fault_rows(hit: pl.DataFrame, table: str, file: str, column: str, reason: str) -> pl.DataFrame:
    return hit.select(
        pl.lit(file).alias("file"),
        pl.lit(table).alias("table_name"),
        pl.col(LINE).cast(pl.Int64).alias("line"),
        pl.lit(column).alias("column_name"),
        pl.col("value"),
        pl.lit(reason).alias("reason"),
        pl.col("firm_id", "job_id"),
    )


def _left_out(good: pl.DataFrame, cells: pl.DataFrame, table: str, file: str) -> Iterator[pl.DataFrame]:
    """A warning on each accepted row of which a cell was loaded without something private."""
    for (column, reason), lines in cells.group_by("column_name", "reason", maintain_order=True):
        hit = good.filter(pl.col(LINE).is_in(lines[LINE].implode()))
        value = pl.col(str(column)).alias("value")
        yield _fault_rows(hit.select(LINE, value, "firm_id", "job_id"), table, file, str(column), str(reason))


def _broken(broken: tuple[BrokenRow, ...], table: str, file: str) -> pl.DataFrame:
    rows = [(file, table, row.line, "", row.text[:500], row.reason, None, None) for row in broken]
    return pl.DataFrame(rows, schema=FAULT_SCHEMA, orient="row")


def conflicts(contract: Table, file: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Faults of rows whose key stands in the file with different content: all of them are rejected.

    `rows` holds the contract's columns, typed, and `line`.
    """
    if not rows.height:
        return pl.DataFrame(schema=FAULT_SCHEMA)
    rows = rows.with_columns(pl.struct(contract.names).hash(seed=0).alias(CONTENT))
    versions = pl.col(CONTENT).n_unique().over(contract.key)
    other = pl.col(LINE).min().over(contract.key), pl.col(LINE).max().over(contract.key)
    rows = rows.with_columns(other[0].alias("first"), other[1].alias("last")).filter(versions > 1)
    rows = rows.rechunk()  # polars 2.1 may panic where a column in pieces meets one that `over` made whole
    key = row_key(contract)[0]
    return rows.select(
        pl.lit(file).alias("file"),
        pl.lit(contract.name).alias("table_name"),
        pl.col(LINE).alias("line"),
        pl.lit(key).alias("column_name"),
        pl.col(key).cast(pl.String).alias("value"),
        pl.format(
            "the same key stands with different content at line {}",
            pl.when(pl.col(LINE) == pl.col("first")).then(pl.col("last")).otherwise(pl.col("first")),
        ).alias("reason"),
        pl.col("firm_id", "job_id"),
    )
