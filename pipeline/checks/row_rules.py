"""The rules that one row can break, as polars expressions, with the reason in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.contract.columns import Column
from pipeline.contract.controls import CLASS, REASON
from pipeline.contract.job_totals import TOTAL_NAMES
from pipeline.privacy.private_columns import ID_COLUMNS

FIRST_VISIT = date(1980, 1, 1)
LONGEST_FLUSH = timedelta(days=5)
LONGEST_PREDOSE = timedelta(days=90)
LONGEST_WAIT = timedelta(days=5)
"""From the first day on site to the begin of the flush; longer is taken for a slip of the pen, and warned of."""
LATE_START = "more than 5 days after visit_date"
EMPTY = "empty, but required"
COUNTED_TO_IT = "follow-up counts to that day"

_YES = ["yes", "true", "y", "1"]
_NO = ["no", "false", "n", "0"]
_TIME_FORMATS = ("%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M")
_WHOLE_DAY = r"[T ]00:00(:00(\.0+)?)?$"

_KIND_REASONS = {
    "integer": "not a whole number",
    "number": "not a number",
    "yes_no": "not yes or no",
    "date": "not a date like 2031-03-04",
    "time": "not a local time like 2031-03-04T09:15",
}


@dataclass(frozen=True, slots=True)
class Rule:
    """`broken` is true for rows that break it; `column` is at fault; `reason` says why."""

    column: str
    reason: str
    broken: pl.Expr


def typed(column: Column) -> pl.Expr:
    """The text cell as its contract type; null where it cannot be."""
    cell = pl.col(column.name)
    match column.kind:
        case "number":
            value = cell.cast(pl.Float64, strict=False)
            return pl.when(value.is_finite()).then(value)
        case "integer":
            value = cell.cast(pl.Float64, strict=False)
            is_whole = value.is_finite() & (value == value.floor()) & (value.abs() < 2**53)
            return pl.when(is_whole).then(value).cast(pl.Int64)
        case "yes_no":
            word = cell.str.to_lowercase()
            return pl.when(word.is_in(_YES)).then(pl.lit(True)).when(word.is_in(_NO)).then(pl.lit(False))
        case "date":
            return cell.str.replace(_WHOLE_DAY, "").str.to_date("%Y-%m-%d", strict=False)
        case "time":
            text = cell.str.replace(" ", "T", literal=True)
            return pl.coalesce(text.str.to_datetime(f, strict=False, time_unit="us") for f in _TIME_FORMATS)
        case "choice":
            return cell.str.to_lowercase()
    return cell


def column_rules(column: Column, value_name: str) -> list[Rule]:
    """Rules of one column: required, type, range, words. `value_name` is its typed twin."""
    cell, value, rules = pl.col(column.name), pl.col(value_name), []
    if column.required:
        nothing_else = [pl.col(name).is_null() for name in column.unless]
        rules.append(Rule(column.name, EMPTY, pl.all_horizontal(cell.is_null(), *nothing_else)))
    if column.name in ID_COLUMNS:
        rules.append(Rule(column.name, REASON, cell.str.contains(CLASS)))
    if column.kind in _KIND_REASONS:
        rules.append(Rule(column.name, _KIND_REASONS[column.kind], cell.is_not_null() & value.is_null()))
    if column.choices:
        reason = f"not one of {', '.join(column.choices)}"
        rules.append(Rule(column.name, reason, value.is_not_null() & ~value.is_in(column.choices)))
    if column.low is not None or column.high is not None:
        rules.append(
            Rule(column.name, _range_reason(column, column.low, column.high), _outside(value, column.low, column.high))
        )
    return rules


def warning_rules(columns: Iterable[Column], prefix: str) -> list[Rule]:
    """Values that load but deserve a look."""
    return [
        Rule(
            column.name,
            "unusual: " + _range_reason(column, column.warn_low, column.warn_high),
            _outside(pl.col(prefix + column.name), column.warn_low, column.warn_high),
        )
        for column in columns
        if column.warn_low is not None or column.warn_high is not None
    ]


def _outside(value: pl.Expr, low: float | None, high: float | None) -> pl.Expr:
    below = value < low if low is not None else pl.lit(False)
    above = value > high if high is not None else pl.lit(False)
    return below | above


def _range_reason(column: Column, low: float | None, high: float | None) -> str:
    unit = f" {column.unit}" if column.unit not in ("", "count", "year", "ratio", "pH") else ""
    if high is None:
        return f"below {low:g}{unit}"
    return f"outside {'' if low is None else f'{low:g}'}..{high:g}{unit}"


def between_rules(table: str, today: date | None, prefix: str) -> list[Rule]:
    """Rules of a row beyond those of its single columns. `today`: the day of receipt; None for a job to be done."""
    if table == "jobs":
        return job_rules(today, prefix)
    if table == "callbacks" and today:
        called = pl.col(prefix + "called_back_on")
        return [Rule("called_back_on", f"after {today}, the day of loading", called > today)]
    return []


def between_warnings(table: str, today: date | None, prefix: str) -> list[Rule]:
    """What loads but deserves a look, beyond the ranges of single columns."""
    if table != "jobs" or today is None:
        return []
    started, visit = pl.col(prefix + "flush_started_at"), pl.col(prefix + "visit_date")
    return [
        Rule("flush_started_at", LATE_START, started.dt.date() - visit > LONGEST_WAIT),
        Rule(
            "followed_until",
            f"after {today}, the day of loading: {COUNTED_TO_IT}",
            pl.col(prefix + "followed_until") > today,
        ),
    ]


def job_rules(today: date | None, prefix: str) -> list[Rule]:
    """Rules between the columns of a jobs row; a rule with an empty side is not broken.

    `today` is the last day on which a visit may lie; None for a job still to be done.
    """

    def of(name: str) -> pl.Expr:
        return pl.col(prefix + name)

    visit, started, ended = of("visit_date"), of("flush_started_at"), of("flush_ended_at")
    return [
        Rule("visit_date", f"before {FIRST_VISIT}", visit < FIRST_VISIT),
        *([Rule("visit_date", f"after {today}, the day of loading", visit > today)] if today else []),
        Rule("install_year", "after the year of the visit", of("install_year") > visit.dt.year()),
        Rule("last_cleaned_year", "after the year of the visit", of("last_cleaned_year") > visit.dt.year()),
        Rule("predosed_on", "after visit_date", of("predosed_on") > visit),
        Rule("predosed_on", "more than 90 days before visit_date", visit - of("predosed_on") > LONGEST_PREDOSE),
        Rule("flush_started_at", "before visit_date", started.dt.date() < visit),
        *_one_without_other("flush_started_at", "flush_ended_at", of),
        Rule("flush_ended_at", "not after flush_started_at", ended <= started),
        Rule("flush_ended_at", "more than 5 days after flush_started_at", ended - started > LONGEST_FLUSH),
        Rule("arrived_at", "after flush_started_at", of("arrived_at") > started),
        Rule("arrived_at", "before visit_date", of("arrived_at").dt.date() < visit),
        Rule("left_at", "before flush_ended_at", of("left_at") < ended),
        Rule("left_at", "more than a day after flush_ended_at", of("left_at") - ended > timedelta(days=1)),
        Rule("followed_until", "before visit_date", of("followed_until") < visit),
    ]


def _one_without_other(first: str, last: str, of: Callable[[str], pl.Expr]) -> list[Rule]:
    """Of two moments both or neither, where a total stands in for them: else `empty, but required` says it already."""
    has_total = pl.any_horizontal(of(name).is_not_null() for name in TOTAL_NAMES)
    return [
        Rule(empty, EMPTY, has_total & of(empty).is_null() & of(given).is_not_null())
        for empty, given in ((first, last), (last, first))
    ]
