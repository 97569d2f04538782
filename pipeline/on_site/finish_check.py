"""Whether the book would take the row of a job on site: its times are judged before anything is saved as finished."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import polars as pl

from pipeline.checks.check_rows import check_table
from pipeline.checks.row_rules import LONGEST_FLUSH
from pipeline.contract.findings import BadInput
from pipeline.on_site.entry_rows import job_log_rows
from pipeline.on_site.finish import cell
from pipeline.on_site.open_job import SiteEvent, SiteJob
from pipeline.readers.text_tables import LINE, TextTable

_WORDS = {
    "flush_started_at": "the start of the flow",
    "flush_ended_at": "the end of the flow",
    "visit_date": "the day of the visit",
    "arrived_at": "the arrival",
    "left_at": "the leaving",
}
_TIMES = tuple(_WORDS)
_OF_THE_START = ("the day of the visit is", "the start of the flow is")


def times_at_fault(job: SiteJob, now: datetime) -> str:
    """What is wrong with the times of a job that goes on, as part of a sentence; empty where nothing is."""
    if job.started_at is not None and timedelta(0) <= now - job.started_at <= LONGEST_FLUSH:
        return ""  # as nearly every job: a page asks often
    return _faults(job_log_rows(job, now=now).get("jobs", ()), now)


def is_start_at_fault(job: SiteJob, now: datetime) -> bool:
    """Whether the start of a job that goes on cannot be right, whenever it ends."""
    return any(times_at_fault(job, now).count(words) for words in _OF_THE_START)


def check_finish(job: SiteJob, facts: Mapping[str, Any], now: datetime) -> None:
    """BadInput where the book would reject the job's row for its times, if it were finished with these facts."""
    of = {name: value.isoformat() if isinstance(value, datetime) else value for name, value in facts.items()}
    ended = SiteEvent(job.lines + 1, "", "finish", now, now, "", of)
    if fault := _faults(job_log_rows(replace(job, events=(*job.events, ended))).get("jobs", ()), now):
        raise BadInput(f"Not finished: {fault}. Say when the flow began and ended.")


def _faults(rows: Iterable[Mapping[str, Any]], now: datetime) -> str:
    """Of the times in one row of `jobs`: each fault in words."""
    row = {name: cell(value) or None for each in rows for name, value in each.items()}
    if not row:
        return ""
    text = pl.DataFrame([{**row, LINE: 1}], schema={LINE: pl.Int64, **dict.fromkeys(row, pl.String)})
    rejects = check_table("jobs", "jobs", TextTable(text), now.date()).rejects
    return " and ".join(
        f"{_WORDS[fault['column_name']]} is {_in_words(fault['reason'])}"
        for fault in rejects.iter_rows(named=True)
        if fault["column_name"] in _TIMES
    )


def _in_words(reason: str) -> str:
    for name, words in _WORDS.items():
        reason = reason.replace(name, words)
    return reason.replace(", the day of loading", ", which is today")
