"""What is heard of a job after it: a return visit, or that all was well."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.store.book import Book


def note_return_visit(
    book: Book,
    firm_id: str,
    job_id: str,
    on: date,
    cause: str,
    debris_related: bool | None = None,
    emitter_no: int | None = None,
) -> None:
    """Put one return visit into the book; noting it twice changes nothing. BadInput where the book rejects it."""
    from pipeline.on_site.return_visits import note_return_visit as note

    note(book, firm_id, job_id, on, cause, debris_related, emitter_no)


def emitters_called_about(build: Path, firm_id: str, job_id: str) -> dict[int, str]:
    """Emitters of a job by number, each with its room, empty where nobody named it."""
    from dashboard.services.build_tables import tables_of_job

    listed = tables_of_job(build, firm_id, job_id)("emitters")
    rooms = listed["room"].where(listed["room"].notna(), "")
    return {int(number): str(room) for number, room in zip(listed["emitter_no"], rooms, strict=True)}


def note_all_well(book: Book, firm_id: str, job_id: str, asked_on: date) -> None:
    """Note that there was no trouble up to the day on which somebody asked. BadInput where as much is known already."""
    from pipeline.on_site.return_visits import note_all_well as note

    note(book, firm_id, job_id, asked_on)
