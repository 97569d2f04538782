"""The book that a command is given, refused before anything that takes its time is imported."""

from __future__ import annotations

from pathlib import Path

from pipeline.store.book import Book


def book_at(path: Path) -> Book:
    """The book in that folder, which may be empty. BookError where there is none."""
    book = Book(path)
    if not book.exists() and not book.is_empty():
        book.current()  # says what is missing
    return book
