"""Fixtures that more than one folder of tests needs. Everything here is made by the project's own code.

Imports stand inside the fixtures, so that a test of one small module does not load the whole project.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pipeline.store.book import Book


@pytest.fixture(scope="session")
def small_logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of simulated job logs: 40 jobs, seed 5. Read only."""
    from synthetic_data.simulate import simulate_to_folder

    logs = tmp_path_factory.mktemp("small") / "logs"
    simulate_to_folder(logs, jobs=40, seed=5, format="csv", progress=None)
    return logs


@pytest.fixture(scope="session")
def small_book(small_logs: Path) -> Book:
    """A book with those 40 jobs loaded and built. Read only: a test that loads makes its own."""
    from pipeline.intake.load import load
    from pipeline.store.book import Book

    book = Book(small_logs.parent / "book")
    load([small_logs], book)
    return book


@pytest.fixture(scope="session")
def trained_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """A demo in small: 160 simulated jobs, seed 11, loaded and everything learnt. Read only."""
    from dashboard.services.training import train
    from pipeline.intake.load import load
    from pipeline.store.book import Book
    from synthetic_data.simulate import simulate_to_folder

    folder = tmp_path_factory.mktemp("trained")
    simulate_to_folder(folder / "logs", jobs=160, seed=11, format="parquet", progress=None)
    book = Book(folder / "book")
    load([folder / "logs"], book)
    train(book)
    return book
