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

from pipeline.contract.findings import BadInput, Finding
from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import columns_of, job_log_rows
from pipeline.on_site.instrument_files import logged_readings
from pipeline.on_site.open_job import SiteJob, read_site_job
from pipeline.store.book import Book

RINSE_CLOSENESS = 0.10
"""Rinsed when the water conducts no more than this share above the mains supply (common practice, no source)."""
CLEAR_NTU = 10.0
"""Up to here water looks clear in a glass (from memory)."""


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


def before_finishing(job: SiteJob, facts: Mapping[str, Any], readings: int) -> tuple[Finding, ...]:
    """What a careful person would still do or write down before leaving, a sentence each; nothing is demanded."""
    strainer = facts.get("boiler_strainer")
    asked = (
        ("no_catch", not job.all_of("catch"), "No catch was weighed."),
        ("no_reading", not readings, "No reading was noted: flow, temperatures or water."),
        ("strainer", strainer is None, "Say what was done with the strainer at the heat source."),
        ("strainer_left", strainer == "left_in", "The strainer was left in: it may be full of what was loosened."),
        ("base", not facts.get("strainer_checked"), "Look into the strainer and the machine base for sand and scale."),
        ("filter", facts.get("filter_fitted") in (None, "none"), "No magnetic filter is left on the system."),
        ("inhibitor", not facts.get("inhibitor_dosed"), "No inhibitor was dosed: bare steel rusts again at once."),
        ("final_ph", facts.get("final_ph") is None, "The pH of the water left in is not written down."),
    )
    return (*rinse(facts), *(Finding(code, sentence) for code, is_so, sentence in asked if is_so))


def rinse(facts: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Whether the water was rinsed far enough, by conductivity against the mains and by turbidity. Inhibitor raises
    the conductivity: once it is in, that comparison says nothing."""
    water, mains = facts.get("final_conductivity_us_cm"), facts.get("mains_conductivity_us_cm")
    turbidity = facts.get("final_turbidity_ntu")
    found = []
    if facts.get("inhibitor_dosed"):
        pass
    elif water is None or not mains:
        found.append(Finding("rinse_unknown", "Measure the conductivity of the last rinse and of the mains."))
    elif water > mains * (1 + RINSE_CLOSENESS):
        above = round(100 * (water / mains - 1))
        sentence = f"The water conducts {above} % more than the mains: rinse until it is within 10 %."
        found.append(Finding("rinse_on", sentence, {"share_above": water / mains - 1}))
    if turbidity is not None and turbidity > CLEAR_NTU:
        sentence = f"The water is still at {turbidity:g} NTU: rinse until it is clear, {CLEAR_NTU:g} NTU or less."
        found.append(Finding("turbid", sentence, {"turbidity_ntu": turbidity}))
    return tuple(found)
