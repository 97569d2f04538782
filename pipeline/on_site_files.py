"""Instrument files of a job on site: kept as they came, on disk before it is said so, read as readings of the job."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import polars as pl

from pipeline.batch_sources import MAPPING_FILE, file_contents
from pipeline.book import Book, sync_folder, write_whole
from pipeline.checking import check_rows
from pipeline.contract import JOB_LOG
from pipeline.findings import BadInput, BookError, Finding
from pipeline.headings import propose
from pipeline.journal import Entry, journal_path
from pipeline.mapping import ColumnMap, Mapping
from pipeline.mapping_file import read_mapping
from pipeline.on_site_entries import MEASURED, Sender, record
from pipeline.on_site_job import SiteJob
from pipeline.reading_files import FoundTable, find_in
from pipeline.reading_tables import LINE, TextTable
from pipeline.uploads import last_part

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Logged:
    """Readings out of instrument files, each a dict of the columns of `readings`, and what should be known."""

    rows: tuple[Row, ...]
    findings: tuple[Finding, ...] = ()


def attach(book: Book, job: SiteJob, name: str, content: bytes, sender: Sender) -> tuple[Entry, int]:
    """Keep an instrument's file with the job; its entry and the number of readings in it.

    BadInput when nothing in it can be read as readings: then nothing is kept.
    """
    shown = last_part(name)
    found = _read(book, job.name, shown, content)
    if not found.rows:
        raise BadInput(f"{shown} holds no reading that can be used.", " ".join(f.sentence for f in found.findings))
    sha256 = hashlib.sha256(content).hexdigest()
    stored = f"{sha256[:16]}-{shown}"
    folder = _folder(book, job.name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / stored, content)
        sync_folder(folder.parent)
    except OSError as error:
        raise BookError(f"{shown} could not be saved: {error.strerror or error}.") from error
    facts = {"name": shown, "stored": stored, "sha256": sha256, "readings": len(found.rows)}
    return record(book, job.name, "files", facts, sender), len(found.rows)


def logged_readings(book: Book, job: SiteJob) -> Logged:
    """All readings of the files that are attached and count; of two at one moment the later file's stands."""
    rows: dict[Any, Row] = {}
    findings: list[Finding] = []
    for event in job.all_of("files"):
        path = _folder(book, job.name) / str(event.of["stored"])
        try:
            content = path.read_bytes()
            if hashlib.sha256(content).hexdigest() != event.of["sha256"]:
                raise BadInput(f"{event.of['name']} was changed since it was attached; attach it again.")
            found = _read(book, job.name, str(event.of["name"]), content)
        except OSError as error:
            findings.append(Finding("file_missing", f"{event.of['name']} cannot be read: {error.strerror}."))
        except BadInput as error:
            findings.append(Finding("file_unreadable", str(error)))
        else:
            rows |= {row["read_at"]: row for row in found.rows}
            findings += found.findings
    return Logged(tuple(rows[at] for at in sorted(rows)), tuple(findings))


def _folder(book: Book, job: str) -> Path:
    return journal_path(book, job).with_suffix(".files")


def _read(book: Book, job: str, name: str, content: bytes) -> Logged:
    """Readings of one file: under the job log's own headings, else by the book's mapping, else by a sure proposal."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        tables = find_in([path]).tables
        rows: list[Row] = []
        findings: list[Finding] = []
        for text in _texts(book, job, path, tables):
            found = _judged(job, name, text)
            rows += found.rows
            findings += found.findings
    return Logged(tuple(rows), tuple(findings))


def _texts(book: Book, job: str, path: Path, tables: tuple[FoundTable, ...]) -> list[TextTable]:
    plain = [text for text in (found.read() for found in tables) if "read_at" in text.headings]
    if plain:
        return plain
    kept = book.path / MAPPING_FILE
    mapping = _of_job(read_mapping(kept), job) if kept.is_file() else None
    if mapping is not None and (sources := file_contents(path, path.name, mapping).sources):
        return [source.read() for source in sources if source.table.name == "readings"]
    proposal = propose(tables)
    asked = [question.sentence for question in proposal.questions if "job_id" not in question.sentence]
    mapping = _of_job(proposal.mapping, job)
    if mapping is None or asked:
        what = f" ({'; '.join(asked[:3])})" if asked else ""
        raise BadInput(
            f"The headings of {path.name} are not known{what}. Hand one such file in on the page Intake once: "
            "what you confirm there serves here too."
        )
    return [source.read() for source in file_contents(path, path.name, mapping).sources]


def _of_job(mapping: Mapping, job: str) -> Mapping | None:
    """The parts of a mapping that give readings, all of them readings of this job."""
    mine = ColumnMap("job_id", constant=job)
    tables = tuple(
        replace(table, columns=(mine, *(c for c in table.columns if c.column not in ("job_id", "firm_id"))))
        for table in mapping.tables
        if table.table == "readings"
    )
    return Mapping(tables) if tables else None


def _judged(job: str, name: str, text: TextTable) -> Logged:
    """Rows by the rules of the contract, all of this job; what breaks one is counted and told."""
    frame = text.frame.drop("firm_id", strict=False).with_columns(pl.lit(job).alias("job_id"))
    checked = check_rows(JOB_LOG["readings"], name, TextTable(frame, text.broken), date.today())
    good = checked.accepted.unique("read_at", keep="last", maintain_order=True).drop(LINE, "firm_id")
    rows = [row for row in good.to_dicts() if any(row[column] is not None for column in MEASURED)]
    bad = checked.rejects["line"].n_unique()
    sentence = f"{bad} of {checked.rows} lines of {name} were left out: they break the format."
    notes = (Finding("lines_left_out", sentence, {"file": name, "lines": bad}),) if bad else ()
    return Logged(tuple({k: v for k, v in row.items() if v is not None} for row in rows), notes)
