"""A disk that is full, a folder that may not be written: one clear sentence instead of a trace."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager

import duckdb
import polars as pl

from pipeline.book import Book
from pipeline.findings import BookError

_REMEDIES = {
    errno.ENOSPC: "Make room on the disk",
    errno.EDQUOT: "Make room on the disk",
    errno.EFBIG: "Make room on the disk",
    errno.EROFS: "Make the folder writable",
    errno.EACCES: "Make the folder writable",
    errno.EPERM: "Make the folder writable",
}


@contextmanager
def writing(book: Book) -> Iterator[None]:
    """Turn what can go wrong while the book is written into a BookError that says what to do."""
    try:
        yield
    except (OSError, pl.exceptions.PolarsError, duckdb.Error) as error:
        raise BookError(_sentence(book, error)) from error


def _sentence(book: Book, error: Exception) -> str:
    number = error.errno if isinstance(error, OSError) else None
    reason = (error.strerror if isinstance(error, OSError) else None) or _first_line(error)
    remedy = _REMEDIES.get(number or 0, "See to it")
    return (
        f"The book {book.path} cannot be written: {reason}. {remedy} and load again; "
        "what was received before is kept."
    )


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")
