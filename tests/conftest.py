"""Fixtures that more than one folder of tests needs. Everything here is made by the project's own code.

Imports stand inside the fixtures, so that a test of one small module does not load the whole project. Worlds are drawn
and books trained once: workers that run side by side share them by way of a folder and a lock (`made_once`).
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pipeline.store.book import Book

# Before numpy and its like are loaded: workers side by side must not each take every core.
for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "POLARS_MAX_THREADS"):
    os.environ.setdefault(threads, "1")


collect_ignore = ["benchmarks", "mutation"]  # programs beside the tests; a study imports each of them

gc.disable()  # all that collecting makes stays until the end: looking through it over and over took a third of the time


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than cores: each waits at times for its browser, a child or the disk."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_finish() -> None:
    """Look for unused objects again, but no more through those that were collected."""
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, Callable[[Path], None]], Path]:
    """`made_once(name, make)`: a folder that `make` has filled, once for all workers of this run. Read only."""
    from filelock import FileLock

    root = tmp_path_factory.getbasetemp()
    root = root.parent if "PYTEST_XDIST_WORKER" in os.environ else root

    def made(name: str, make: Callable[[Path], None]) -> Path:
        folder, done = root / f"shared-{name}", root / f"shared-{name}.done"
        with FileLock(root / f"shared-{name}.lock"):
            if not done.exists():
                folder.mkdir()
                make(folder)
                done.touch()
        return folder

    return made


@pytest.fixture(scope="session")
def simulated_book(made_once: Callable[[str, Callable[[Path], None]], Path]) -> Callable[..., Book]:
    """`simulated_book(jobs, seed, trained=False, scenario="usual")`: a loaded book, its `logs` beside it, made once."""

    def book_of(jobs: int, seed: int, trained: bool = False, scenario: str = "usual") -> Book:
        from pipeline.store.book import Book

        def make(folder: Path) -> None:
            from dashboard.services.training import train
            from pipeline.intake.load import load
            from synthetic_data.simulate import simulate_to_folder

            simulate_to_folder(folder / "logs", jobs=jobs, seed=seed, scenario=scenario, format="csv", progress=None)
            book = Book(folder / "book")
            load([folder / "logs"], book)
            settings = book.firm_file.read_text(encoding="utf-8")
            read = settings.replace("label_max_days = 0", "label_max_days = 14")  # a label that somebody read
            book.firm_file.write_text(read, encoding="utf-8")
            if trained:
                train(book)

        kind = "trained" if trained else "loaded"
        return Book(made_once(f"{scenario}-{jobs}-{seed}-{kind}", make) / "book")

    return book_of


@pytest.fixture(scope="session")
def small_book(simulated_book: Callable[..., Book]) -> Book:
    """A book of 40 simulated jobs, seed 5, loaded and built. Read only: a test that loads makes its own."""
    return simulated_book(40, 5)


@pytest.fixture(scope="session")
def small_logs(small_book: Book) -> Path:
    """The folder of job logs that `small_book` was loaded from. Read only."""
    return small_book.path.parent / "logs"


@pytest.fixture(scope="session")
def trained_book(simulated_book: Callable[..., Book]) -> Book:
    """A demo in small: 90 simulated jobs, seed 3, loaded and everything learnt. Read only."""
    return simulated_book(90, 3, trained=True)
