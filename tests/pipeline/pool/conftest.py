"""Three books of four firms, two of which call themselves `own` and number their jobs alike; a lake; a server."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.pool.add import Added, add
from pipeline.pool.build_pool import PoolBuilt, build_pool
from pipeline.pool.engines import InProcess
from pipeline.pool.lake import Lake
from pipeline.store.book import Book
from tests.pipeline.conftest import HAND_WRITTEN, JOB_A, JOBS_HEAD


@dataclass(frozen=True, slots=True)
class Pool:
    """A lake with what was said as its books were added and built; the books by name."""

    lake: Lake
    books: dict[str, Book]
    added: dict[str, tuple[Added, ...]]
    built: PoolBuilt


@pytest.fixture(scope="session")
def books(
    hand_report: tuple[Book, LoadReport], small_book: Book, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Book]:
    """Typed in by hand (two firms, rows with every fault), the same log again in another firm's book, simulated."""
    other = Book(tmp_path_factory.mktemp("other") / "book")
    warm = tmp_path_factory.mktemp("warm")
    (warm / "jobs.csv").write_text(f"{JOBS_HEAD},survey_ph\nW-1{JOB_A[1:]},5\n", encoding="utf-8")
    load([HAND_WRITTEN], other)
    load([warm], other)  # water so sour that it is loaded with a warning
    return {"hand": hand_report[0], "other": other, "simulated": small_book}


@pytest.fixture(scope="session")
def pool(books: dict[str, Book], tmp_path_factory: pytest.TempPathFactory) -> Pool:
    """All of them in one lake, built in this process. Read only."""
    lake = Lake(tmp_path_factory.mktemp("pool") / "lake [1]")
    added = {name: add(book, lake) for name, book in books.items()}
    return Pool(lake, books, added, build_pool(lake, InProcess()))


@pytest.fixture
def own_pool(pool: Pool, tmp_path: Path) -> Lake:
    """A copy of the lake to write to, built anew where it lies."""
    folder = tmp_path / "lake"
    shutil.copytree(pool.lake.path, folder)
    lake = Lake(folder)
    build_pool(lake, InProcess(), anew=True)
    return lake


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The address of a Spark Connect server without a JVM, in this process."""
    from pysail.spark import SparkConnectServer

    sail = SparkConnectServer("127.0.0.1", 0)
    sail.start(background=True)
    _, port = sail.listening_address
    yield f"sc://127.0.0.1:{port}"
    sail.stop()


Built = Callable[[Lake, str], PoolBuilt]
