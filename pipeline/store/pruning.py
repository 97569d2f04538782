"""Old builds and what killed loads leave behind: removed by the next load, never while someone reads them.

A build can always be made again from `received/`, so only disk space is at stake. The caller holds the
book's lock.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from pipeline.contract.findings import BookError
from pipeline.contract.whole_files import replace_file
from pipeline.store.book import Book

LEFTOVER_S = 600.0
"""A model or a tally is written in seconds; what is half written and older was left by what stopped."""

BUILDS_KEPT = 3
"""Newest builds that stay: a page that began on one of them finds it for as long as it runs."""


def prune_builds(book: Book, keep: int = BUILDS_KEPT) -> tuple[Path, ...]:
    """Remove builds beyond the newest `keep`, but never the current one nor one that is open; those removed."""
    newest = sorted(book.builds.glob("*.duckdb"), key=lambda path: (path.stat().st_mtime_ns, path.name), reverse=True)
    try:
        current = book.current()
    except BookError:
        return ()
    gone = []
    for build in newest[keep:]:
        if build != current and not is_open_elsewhere(build) and _removed(build):
            gone.append(build)
    return tuple(gone)


def is_open_elsewhere(build: Path) -> bool:
    """Whether another process has the build open: DuckDB locks a file for as long as it is open.

    Where the system cannot tell (Windows), removing an open file fails by itself.
    """
    try:
        import fcntl
    except ImportError:
        return False
    try:
        with build.open("r+b") as file:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return True
    return False


def _bring_back_models(book: Book) -> None:
    """A process that stopped between taking the old model away and putting the new one there left neither."""
    for old in _model_leftovers(book):
        if old.suffix != ".old":
            continue
        folder = old.with_name(old.name.removeprefix(".").removesuffix(".old").rpartition(".")[0])
        if not folder.exists():
            replace_file(old, folder)


def make_room(book: Book, wanted_bytes: int) -> tuple[Path, ...]:
    """Remove older builds while the disk has less free than wanted: all but the current one, oldest first; those
    removed. Each can be made again."""
    gone: list[Path] = []
    for keep in range(BUILDS_KEPT - 1, 0, -1):
        if shutil.disk_usage(book.path).free >= wanted_bytes:
            break
        gone += prune_builds(book, keep)
    return tuple(gone)


def room_for_a_build(book: Book) -> int:
    """Bytes that a new build may take, with what it needs while it is written: twice the largest that stands."""
    return 2 * _largest(book)


def refuse_if_short(book: Book, more_bytes: int) -> None:
    """Make room for a build and for so many bytes more. BookError, before anything is written, where the disk surely
    has too little even then: less than those and the largest build that stands."""
    make_room(book, room_for_a_build(book) + more_bytes)
    needed, free = _largest(book) + more_bytes, shutil.disk_usage(book.path).free
    if free < needed:
        raise BookError(
            f"The disk that holds {book.path} has {_megabytes(free)} free, and a new build needs about "
            f"{_megabytes(needed)}. Nothing was received or changed. Make room on the disk and load again."
        )


def _largest(book: Book) -> int:
    return max((build.stat().st_size for build in book.builds.glob("[!.]*.duckdb")), default=0)


def _megabytes(count: int) -> str:
    return f"{count / 1e6:,.1f} MB"


def _removed(build: Path) -> bool:
    try:
        build.unlink()
    except OSError:
        return False
    return True


def leftovers(book: Book) -> tuple[Path, ...]:
    """Half-written files and folders of loads that were killed."""
    found = [*book.received.glob(".incoming-*"), *book.checked.glob(".*.part"), *book.builds.glob(".*.part*")]
    found += [*book.path.glob(".*.part"), *book.path.glob("firm.toml.*.part")]
    found += [path for folder in ("on_site", "quotes") for path in _old(book.path.glob(f"{folder}/.*.part"))]
    return tuple(sorted([*found, *_model_leftovers(book)]))


def _model_leftovers(book: Book) -> list[Path]:
    """What stopped training left among the models."""
    found = (book.path / "models").glob("*/.*")
    return _old(path for path in found if path.name.endswith((".part", ".old")))


def _old(paths: Iterable[Path]) -> list[Path]:
    """Those that nobody writes any more: what needs no lock of the book may be written at this moment."""
    found = []
    for path in paths:
        with suppress(FileNotFoundError):
            if time.time() - path.stat().st_ctime > LEFTOVER_S:
                found.append(path)
    return found


def sweep(book: Book) -> None:
    """Remove them; models that were put aside for newer ones which then never came are put back first."""
    _bring_back_models(book)
    _remove(leftovers(book))


def sweep_models(book: Book) -> None:
    """The same of models alone, which needs no lock."""
    _bring_back_models(book)
    _remove(tuple(_model_leftovers(book)))


def _remove(paths: tuple[Path, ...]) -> None:
    for path in paths:
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
