"""A finished job on site becomes a received batch like any other, and the journal stays.

The files are made from the entries alone, so that the same entries always give the same batch: a computer that
stops between finishing and loading loses nothing, and doing it again changes nothing.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import columns_of, job_log_rows
from pipeline.on_site.instrument_files import logged_readings
from pipeline.on_site.open_job import read_site_job
from pipeline.on_site.quote_link import link_quote
from pipeline.store.book import Book


def hand_in(book: Book, name: str) -> LoadReport:
    """Load a finished job into the book; again for one that is there already changes nothing.

    BadInput when it is not finished. A row that the book rejects is told in the report, as of any other files.
    """
    job = read_site_job(book, name)
    if job.finish is None:
        raise BadInput(f"{name} is not finished yet.")
    with TemporaryDirectory() as folder:
        files = written(job_log_rows(job, logged_readings(book, job).rows), Path(folder))
        # once this finish is in the book, the office may have corrected a row of it: that is not undone
        done = job.finish.saved_at if job.received is None else datetime.min
        report = load(files, book, unless_since=done)
    link_quote(book, job)
    if job.received is None:
        facts = {"finish": job.finish.entry_id, "batch": report.batch, "rejects": len(report.rejects)}
        record(book, name, "received", facts, Sender(f"received-{job.finish.entry_id}"))
    return report


def written(rows: Mapping[str, Sequence[Mapping[str, Any]]], folder: Path) -> list[Path]:
    """Each table as a CSV file of the job log in a folder; the same rows give the same bytes."""
    paths = []
    for table, found in rows.items():
        names = sorted(columns_of(found), key=lambda name: (name != "job_id", name))
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(names)
        writer.writerows([[cell(row.get(name)) for name in names] for row in found])
        paths.append(folder / f"{table}.csv")
        paths[-1].write_bytes(text.getvalue().encode())
    return paths


def cell(value: object) -> str:
    """A value as a cell of the job log."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, date | datetime) else str(value)
