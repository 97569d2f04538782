"""A disk that is full, a folder that may not be written: one clear sentence instead of a trace."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager

import duckdb
import polars as pl

from pipeline.build import BuildError
from pipeline.contract.findings import BookError, SludgebookError
from pipeline.contract.plain_names import as_typed
from pipeline.store.book import Book

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
    except BuildError as error:
        if _number(error) is None:
            raise
        raise BookError(_sentence(book, error)) from error
    except (OSError, pl.exceptions.PolarsError, duckdb.Error) as error:
        raise BookError(_sentence(book, error)) from error


def is_of_the_disk(error: BaseException) -> bool:
    """Whether the disk or its rights are at fault: full, read-only, forbidden."""
    return _number(error) in _REMEDIES


def _number(error: BaseException) -> int | None:
    """The system's number of the fault: known, or told by the words that the libraries pass on."""
    if isinstance(error, OSError) and error.errno:
        return error.errno
    return next((number for number in _REMEDIES if os.strerror(number) in str(error)), None)


def broken(book: Book, error: BaseException) -> str:
    """What to say where checked rows or a build cannot be worked on, and it is not the disk that refuses."""
    first = (str(error).strip().splitlines() or [type(error).__name__])[0][:200]
    return (
        f"The checked rows or the build of the book {book.path} cannot be read as they should ({first.rstrip('.')}); "
        f"`sludgebook rebuild --book {as_typed(book.path)}` makes them again from the files received."
    )


@contextmanager
def reading_checked(book: Book) -> Iterator[None]:
    """Turn what can go wrong while checked rows are read into a BookError that says what to do."""
    try:
        yield
    except SludgebookError:
        raise
    except PermissionError as error:
        raise BookError(f"{error.filename or book.checked} may not be read: {error.strerror}.") from error
    except (OSError, pl.exceptions.PolarsError, duckdb.Error) as error:
        raise BookError(broken(book, error)) from error
    except BaseException as error:
        if type(error).__name__ != "PanicException":  # so a compiled reader ends on bytes that it does not expect
            raise
        raise BookError(broken(book, error)) from error


def _sentence(book: Book, error: Exception) -> str:
    number = _number(error)
    if number is None and not isinstance(error, OSError):
        return broken(book, error)
    reason = os.strerror(number) if number else (str(error).strip().splitlines() or [type(error).__name__])[0]
    remedy = _REMEDIES.get(number or 0, "Look to the disk")
    return (
        f"The book {book.path} cannot be written: {reason.rstrip('.')}. {remedy} and load again; "
        "what was received is kept."
    )
