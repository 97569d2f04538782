"""Instrument files of a job on site: kept as they came, on disk before it is said so, read as readings of the job."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from collections.abc import Mapping as Facts
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import polars as pl

from pipeline.checks.batch_sources import MAPPING_FILE, file_contents
from pipeline.checks.check_rows import check_rows
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput, BookError, Finding
from pipeline.contract.whole_files import sync_folder, write_whole
from pipeline.intake.uploads import last_part
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping
from pipeline.mapping.mapping_file import mapping_text, read_mapping
from pipeline.mapping.propose import propose
from pipeline.on_site.entries import MEASURED, Sender, record
from pipeline.on_site.instrument_clock import DayOpen, Days, apart_in_order, dated, days_of
from pipeline.on_site.instrument_headings import HeadingsOpen, asked_of, told, told_day
from pipeline.on_site.open_job import SiteEvent, SiteJob, site_jobs
from pipeline.readers.files import FoundTable, find_in
from pipeline.readers.text_tables import LINE, TextTable
from pipeline.store.book import Book
from pipeline.store.journal import Entry, journal_path

Row = dict[str, Any]
Answers = Facts[str, str]
_FEWEST = 2
_ANSWERED = ("job_id", "the day of")
"""Questions about a file that the job answers: which one it is, and when it was."""


@dataclass(frozen=True, slots=True)
class Logged:
    """Readings out of instrument files, each a dict of the columns of `readings`, and what should be known."""

    rows: tuple[Row, ...]
    findings: tuple[Finding, ...] = ()


class Read(NamedTuple):
    """Readings of one file, the mapping that they were read by, None where the headings are the job log's, and the
    first day of clock times that have none of their own."""

    logged: Logged
    mapping: Mapping | None
    day: date | None


def attach(
    book: Book,
    job: SiteJob,
    name: str,
    content: bytes,
    sender: Sender,
    answers: Answers | None = None,
    *,
    now: datetime | None = None,
) -> tuple[Entry, int]:
    """Keep an instrument's file with the job; its entry and the number of readings in it.

    `answers` say what the headings are, as HeadingsOpen asked. BadInput when nothing in it can be read as readings:
    then nothing is kept. The mapping that was used stays with the entry, whatever the book's is by then; so does the
    day of a file that holds clock times only.
    """
    shown = last_part(name)
    days = days_of(job, now or datetime.now())
    found, mapping, day = _read(book, job.name, shown, content, days, answers=answers)
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
    facts: dict[str, Any] = {"name": shown, "stored": stored, "sha256": sha256, "readings": len(found.rows)}
    if mapping is not None:
        facts["mapping"] = mapping_text(mapping)
    if day is not None:
        facts["day"] = day.isoformat()
    return record(book, job.name, "files", facts, sender, now=now), len(found.rows)


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
            found = _again(book, job.name, event, content)
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


def _again(book: Book, job: str, event: SiteEvent, content: bytes) -> Logged:
    """Readings of a file that is attached, by the mapping and the day that stand in its entry."""
    name, kept = str(event.of["name"]), str(event.of.get("mapping") or "")
    day = date.fromisoformat(str(event.of["day"])) if event.of.get("day") else None
    if kept:
        return _read_again(job, name, content, kept, day)
    return _read(book, job, name, content, Days(), day=day).logged


@lru_cache(maxsize=8)
def _read_again(job: str, name: str, content: bytes, mapping: str, day: date | None) -> Logged:
    """Readings of a file by the mapping that stands in its entry: always the same."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        texts = _mapped(path, _of_job(mapping_of(mapping), job))
        return _logged(job, name, dated(name, texts, Days(), day)[0])


def _read(
    book: Book,
    job: str,
    name: str,
    content: bytes,
    days: Days,
    *,
    answers: Answers | None = None,
    day: date | None = None,
) -> Read:
    """Readings of one file: by the answers of a person, else under the job log's own headings, by the book's mapping,
    by one that was told on site before, or by a sure proposal."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        tables = find_in([path]).tables
        texts, mapping = _texts(book, job, path, tables, answers)
        try:
            texts, first = dated(name, texts, days, day or told_day(answers or {}))
        except DayOpen as problem:
            raise HeadingsOpen(name, asked_of(tables[0], problem.days, mapping), str(problem)) from None
        return Read(_logged(job, name, texts), mapping, first)


def _logged(job: str, name: str, texts: list[TextTable]) -> Logged:
    found = [_judged(job, name, text) for text in texts]
    rows = tuple(row for each in found for row in each.rows)
    return Logged(rows, tuple(finding for each in found for finding in each.findings))


def _texts(
    book: Book, job: str, path: Path, tables: tuple[FoundTable, ...], answers: Answers | None
) -> tuple[list[TextTable], Mapping | None]:
    if answers is not None and tables:
        mapping = told(tables[0], answers)
        return _mapped(path, _of_job(mapping, job)), mapping
    plain = [text for text in (found.read() for found in tables) if "read_at" in text.headings]
    if plain:
        return plain, None
    for mapping in _known(book):
        if texts := _mapped(path, _of_job(mapping, job)):
            return texts, mapping
    proposal = propose(tables)
    open_ones = [each for each in proposal.questions if not any(word in each.sentence for word in _ANSWERED)]
    if not open_ones and (texts := _mapped(path, _of_job(proposal.mapping, job))):
        return texts, proposal.mapping
    asked = asked_of(tables[0]) if tables else ()
    if len(asked) < _FEWEST:
        raise BadInput(f"{path.name} holds no reading that can be used: no heading with times and one with numbers.")
    raise HeadingsOpen(path.name, asked)


def _known(book: Book) -> Iterator[Mapping]:
    """The book's mapping, and those told on site before, the newest first."""
    kept = book.path / MAPPING_FILE
    if kept.is_file():
        yield read_mapping(kept)
    seen = set()
    for job in site_jobs(book):
        for event in reversed(job.events):
            text = str(event.of.get("mapping") or "") if event.kind == "files" else ""
            if text and text not in seen:
                seen.add(text)
                yield mapping_of(text)


def mapping_of(text: str) -> Mapping:
    """A mapping as an entry keeps it."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / MAPPING_FILE
        path.write_text(text, encoding="utf-8")
        return read_mapping(path)


def _mapped(path: Path, mapping: Mapping | None) -> list[TextTable]:
    if mapping is None:
        return []
    found = file_contents(path, path.name, mapping)
    return [source.read() for source in found.sources if source.table.name == "readings"] if found.used_mapping else []


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
    accepted = apart_in_order(checked.accepted)
    good = accepted.unique("read_at", keep="last", maintain_order=True).drop(LINE, "firm_id")
    rows = [row for row in good.to_dicts() if any(row[column] is not None for column in MEASURED)]
    bad = checked.rejects["line"].n_unique()
    sentence = f"{bad} of {checked.rows} lines of {name} were left out: they break the format."
    notes = (Finding("lines_left_out", sentence, {"file": name, "lines": bad}),) if bad else ()
    return Logged(tuple({k: v for k, v in row.items() if v is not None} for row in rows), notes)
