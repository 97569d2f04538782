"""Old builds and what killed loads leave behind: removed by the next load, never while someone reads them.

A build can always be made again from `received/`, so only disk space is at stake. The caller holds the
book's lock.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from pipeline.contract.findings import BookError
from pipeline.store.book import Book

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
    return tuple(sorted(found))


def sweep(book: Book) -> None:
    """Remove them."""
    for path in leftovers(book):
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
