"""What is heard of a job after it: a return visit, or that all was well."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.store.book import Book


def note_return_visit(
    book: Book, firm_id: str, job_id: str, on: date, cause: str, debris_related: bool | None = None
) -> None:
    """Put one return visit into the book; noting it twice changes nothing. BadInput where the book rejects it."""
    from pipeline.on_site.return_visits import note_return_visit as note

    note(book, firm_id, job_id, on, cause, debris_related)


def note_all_well(book: Book, firm_id: str, job_id: str, asked_on: date) -> None:
    """Note that there was no trouble up to the day on which somebody asked. BadInput where as much is known already."""
    from pipeline.on_site.return_visits import note_all_well as note

    note(book, firm_id, job_id, asked_on)
