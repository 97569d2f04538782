"""The lake: one folder of Parquet files of many firms. Where what lies, and whether a firm's part is whole.

lake/  pool.json                    that it is a pool, and of which contract
       firms/<firm>/<part>/         a firm's checked rows, one file a table, ids hidden        append-only
       firms/<firm>/newest          which part counts
       tables/<build>/<table>/      core and feature tables of the firms worked out in that build
       builds/<build>.duckdb        views over these files: what a book's build is to a book
       builds/<build>.json          firm → part, and the build in which its tables were worked out
       current                      the build to read
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.contract import CONTRACT_VERSION
from pipeline.contract.findings import SludgebookError
from pipeline.contract.whole_files import write_whole
from pipeline.store.book import POOL_FILE, Book

PART_FILE = "part.json"
NEWEST = "newest"
LOCK_SECONDS = 5.0
LARGEST_JSON = 50_000_000


class PoolError(SludgebookError):
    """The pool cannot be used as asked; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Part:
    """A firm's rows as they were added: its hidden id, the id of the content, jobs, and the folder of its files."""

    firm: str
    digest: str
    jobs: int
    folder: Path


@dataclass(frozen=True, slots=True)
class Lake:
    """The folder of a pool and the places in it."""

    path: Path

    @property
    def firms(self) -> Path:
        """A folder a firm."""
        return self.path / "firms"

    @property
    def tables(self) -> Path:
        """Core and feature tables as Parquet, a folder a build."""
        return self.path / "tables"

    @property
    def book(self) -> Book:
        """The same folder as a book: its builds, its settings, its models."""
        return Book(self.path)

    def create(self) -> None:
        """Make the folders unless they are there; PoolError where the folder holds something else."""
        if "://" in str(self.path):
            raise PoolError("A lake is a folder: give an object store a folder of this machine by mounting it.")
        try:
            if self.path.is_dir() and not self.is_lake() and any(self.path.iterdir()):
                raise PoolError(f"{self.path} is a folder with other things in it; name a new folder for the pool.")
            self.book.create()
            for folder in (self.firms, self.tables):
                folder.mkdir(exist_ok=True)
            if not self.is_lake():
                write_whole(self.path / POOL_FILE, json.dumps({"contract": CONTRACT_VERSION}).encode())
        except OSError as error:
            raise PoolError(f"The pool {self.path} cannot be written: {error.strerror or error}.") from error

    def is_lake(self) -> bool:
        """Whether the folder is a pool."""
        return (self.path / POOL_FILE).is_file()

    def check(self) -> None:
        """PoolError where the folder is no pool, or one of another contract."""
        if not self.is_lake():
            raise PoolError(f"There is no pool at {self.path}. `sludgebook pool add BOOK LAKE` makes one.")
        found = read_json(self.path / POOL_FILE).get("contract")
        if found != CONTRACT_VERSION:
            raise PoolError(
                f"The pool {self.path} holds rows of contract {found}, this program writes {CONTRACT_VERSION}: "
                "add every book to a new pool."
            )

    @contextmanager
    def lock(self) -> Iterator[None]:
        """One writer at a time; PoolError where another does not finish soon."""
        lock = FileLock(self.path / ".lock", timeout=LOCK_SECONDS)
        try:
            lock.acquire()
        except Timeout as error:
            raise PoolError(f"Another command writes the pool {self.path}; wait until it is done.") from error
        except OSError as error:
            raise PoolError(f"The pool {self.path} cannot be written: {error.strerror or error}.") from error
        try:
            yield
        finally:
            lock.release()

    def newest_parts(self) -> tuple[tuple[Part, ...], tuple[str, ...]]:
        """The newest part of each firm, by firm; and a sentence for each firm whose files are not whole."""
        found, faults = [], []
        for folder in sorted(self.firms.iterdir()):
            pointer = folder / NEWEST
            if not pointer.is_file():
                continue
            part = folder / pointer.read_text(encoding="utf-8").strip()
            fault = _fault(part)
            if fault:
                faults.append(f"Firm {folder.name} is left out: {fault}; add its book again.")
                continue
            found.append(Part(folder.name, part.name, int(str(read_json(part / PART_FILE)["jobs"])), part))
        return tuple(found), tuple(faults)


def _fault(part: Path) -> str:
    """What is wrong with the files of a part; empty where all are there in their full size."""
    if not (part / PART_FILE).is_file():
        return "the list of its files is missing"
    said = read_json(part / PART_FILE)
    if said.get("contract") != CONTRACT_VERSION:
        return f"its rows are of contract {said.get('contract')}"
    files = said.get("files")
    for name, (size, _) in files.items() if isinstance(files, dict) else ():
        path = part / name
        if not path.is_file():
            return f"{name} is missing"
        if path.stat().st_size != size:
            return f"{name} has {path.stat().st_size} bytes of {size}"
    return ""


def spoilt_files(part: Part) -> tuple[str, ...]:
    """Names of the part's files whose content is not what was written (SHA-256); slow, for whoever doubts."""
    files = read_json(part.folder / PART_FILE)["files"]
    assert isinstance(files, dict)
    return tuple(name for name, (_, sha256) in files.items() if sha256_of(part.folder / name) != sha256)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read_json(path: Path) -> dict[str, object]:
    """A JSON object; PoolError where the file holds none."""
    try:
        if path.stat().st_size > LARGEST_JSON:
            raise ValueError("too large")
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise PoolError(f"{path} cannot be read: {error}.") from error
    if not isinstance(found, dict):
        raise PoolError(f"{path} holds no JSON object.")
    return found
