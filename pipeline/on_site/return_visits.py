"""What is heard of a job after it: a return visit, or that all was well when somebody asked. Both enter the job log."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.on_site.finish import written
from pipeline.store.book import Book, read_records

_ROW = "select * from jobs where firm_id = $firm_id and job_id = $job_id"


def note_return_visit(
    book: Book,
    firm_id: str,
    job_id: str,
    called_back_on: date,
    cause: str,
    debris_related: bool | None = None,
    emitter_no: int | None = None,
) -> LoadReport:
    """Put one return visit into the book, of the emitter that it was about where it was about one; noting it twice
    changes nothing. BadInput where the book rejects it."""
    key = {"firm_id": firm_id, "job_id": job_id, "called_back_on": called_back_on, "cause": cause}
    return _loaded(book, "callbacks", {**key, "debris_related": debris_related, "emitter_no": emitter_no})


def note_all_well(book: Book, firm_id: str, job_id: str, asked_on: date) -> LoadReport:
    """Note that there was no trouble up to the day on which somebody asked: a new version of the job's row.

    BadInput where the book has no such job, or knows as much already.
    """
    found = read_records(book.current(), _ROW, firm_id=firm_id, job_id=job_id)
    if not found:
        raise BadInput(f"The book has no job {job_id} of {firm_id}.")
    row = {name: found[0].get(name) for name in JOB_LOG["jobs"].names}
    known = row["followed_until"]
    if known is not None and _day(known) >= asked_on:
        raise BadInput(f"{job_id} was followed up to {_day(known):%d/%m/%Y} already.")
    return _loaded(book, "jobs", {**row, "followed_until": asked_on})


def _day(value: Any) -> date:
    day: date = value.date() if hasattr(value, "date") else value
    return day


def _loaded(book: Book, table: str, row: dict[str, Any]) -> LoadReport:
    with TemporaryDirectory() as folder:
        report = load(written({table: [row]}, Path(folder)), book)
    if report.rejects:
        raise BadInput(f"Not noted: {'; '.join(f'{each.column} {each.reason}' for each in report.rejects)}.")
    return report
