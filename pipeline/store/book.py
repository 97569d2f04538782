"""The book: one folder a firm. Finds the current build, reads it, publishes a new one.

The only module that opens DuckDB. A build is read only, never changed in place: a new one is written
under another name, renamed when whole, and `current` is replaced by an atomic rename, so that a reader
never sees half a build and never blocks a writer.

DuckDB, pandas and pyarrow are imported by what reads a build: that a book is missing is found without them.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract import BUILT
from pipeline.contract.findings import BookError, Finding
from pipeline.contract.firm import Firm, read_firm, write_default_firm

if TYPE_CHECKING:
    import duckdb
    import pandas as pd
    import pyarrow as pa

SQL_DIR = Path(__file__).parents[1] / "sql"


@dataclass(frozen=True, slots=True)
class Book:
    """The folder of a book and the places in it."""

    path: Path

    @property
    def received(self) -> Path:
        """Files exactly as they came, a folder a batch; append-only."""
        return self.path / "received"

    @property
    def checked(self) -> Path:
        """Accepted rows as typed Parquet and rejects, a folder a batch; can be made again."""
        return self.path / "checked"

    @property
    def builds(self) -> Path:
        """DuckDB files, named by what went in; can be made again."""
        return self.path / "builds"

    @property
    def firm_file(self) -> Path:
        """The firm's settings."""
        return self.path / "firm.toml"

    def exists(self) -> bool:
        """Whether the folder holds a book."""
        return self.received.is_dir()

    def create(self) -> None:
        """Make the folder and a commented `firm.toml` unless they are there; BookError when it cannot be."""
        if self.path.is_dir() and not self.exists() and any(self.path.iterdir()):
            raise BookError(f"{self.path} is a folder with other things in it; name a new folder for the book.")
        try:
            for folder in (self.received, self.checked, self.builds):
                folder.mkdir(parents=True, exist_ok=True)
            if not self.firm_file.exists():
                write_default_firm(self.firm_file)
        except OSError as error:
            reason = error.strerror or str(error)
            raise BookError(f"The book {self.path} cannot be written: {reason}. Name another folder.") from error

    def id_key(self) -> bytes:
        """The key under which ids that are e-mail addresses are hidden; made once, kept in the book."""
        path = self.path / "id.key"
        if not path.is_file():
            write_whole(path, secrets.token_bytes(32))
            path.chmod(0o600)
        return path.read_bytes()

    def firm(self) -> Firm:
        """The firm's settings, defaults where the file or a key is missing."""
        return read_firm(self.firm_file) if self.firm_file.exists() else Firm()

    def current(self) -> Path:
        """The build to read; BookError with the remedy when there is none."""
        if not self.path.exists():
            raise BookError(f"There is no book at {self.path}. `sludgebook load PATH --book {self.path}` makes one.")
        if not self.exists():
            raise BookError(f"{self.path} is no book: it has no folder `received`. Name the book's own folder.")
        pointer = self.path / "current"
        if not pointer.is_file():
            raise BookError(f"The book {self.path} holds no jobs yet. `sludgebook load PATH --book {self.path}`.")
        name = pointer.read_text(encoding="utf-8", errors="replace").strip()
        build = self.builds / name
        if not name or Path(name).name != name or not build.is_file():
            raise BookError(f"The book {self.path} names a build that is not there; load any file again to rebuild it.")
        return build

    def is_empty(self) -> bool:
        """A book to be: an empty folder, or a book into which no job log was ever loaded."""
        if self.exists():
            return not (self.path / "current").is_file() and not any(self.received.iterdir())
        return self.path.is_dir() and not any(self.path.iterdir())

    def publish(self, build: Path) -> None:
        """Make `build` the current one, by an atomic rename."""
        write_whole(self.path / "current", f"{build.name}\n".encode())

    def models_dir(self, build: Path) -> Path:
        """Where the models fitted on that build are kept."""
        return self.path / "models" / build.stem

    def fitted_models(self, build: Path) -> Path | None:
        """Models to use for a build: its own, else the newest fitted on an earlier one, else None.

        A load makes a new build at once; until the models are fitted again the earlier ones still serve.
        """
        own = self.models_dir(build)
        fitted = {manifest.parents[1]: manifest.stat().st_mtime_ns for manifest in own.parent.glob("*/*/manifest.json")}
        return own if own in fitted else max(fitted, key=lambda folder: fitted[folder], default=None)


def model_age(folder: Path, build: Path) -> tuple[Finding, ...]:
    """A finding where the models in `folder` were fitted on another build than the one being read."""
    if folder.name == build.stem:
        return ()
    sentence = "The forecasts were learnt before the newest load; learn again so that they know its jobs."
    return (Finding("model_older_than_records", sentence, {"fitted_on": folder.name, "build": build.stem}),)


def write_whole(path: Path, data: bytes) -> None:
    """Write a file under another name, sync it to disk, and rename it: whole or not at all."""
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        part.unlink(missing_ok=True)
        raise
    part.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a rename in a folder last through a power cut; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def open_build(build: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection; BookError in one sentence when the file is locked, damaged or too old."""
    import duckdb

    try:
        connection = duckdb.connect(str(build), read_only=True)
    except duckdb.Error as error:
        raise BookError(_why_unreadable(build, error)) from error
    try:
        yield connection
    except duckdb.Error as error:
        raise BookError(_why_unreadable(build, error)) from error
    finally:
        connection.close()


def _why_unreadable(build: Path, error: Exception) -> str:
    import duckdb

    first = str(error).strip().splitlines()[0]
    if "lock" in first.lower():
        return f"{build} is locked by another program; close that program and try again."
    if isinstance(error, duckdb.BinderException | duckdb.CatalogException):
        return f"{build} was made by another version; load any file again to rebuild it ({first})."
    return f"{build} is damaged; delete it and load any file again to rebuild it ({first})."


@contextmanager
def new_build(part: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A writable connection to a file that is not published yet, or to memory for `Path(':memory:')`."""
    import duckdb

    connection = duckdb.connect(str(part))
    try:
        connection.execute("set enable_progress_bar = false")
        yield connection
        if str(part) != ":memory:":
            connection.execute("checkpoint")  # closing alone keeps quiet about a disk that is full
    finally:
        connection.close()
    if part.with_name(f"{part.name}.wal").exists():
        raise OSError(f"{part.name} could not be written whole")


def open_memory() -> duckdb.DuckDBPyConnection:
    """A database in memory for small work: one thread, which is there at once."""
    import duckdb

    connection = duckdb.connect(":memory:", config={"threads": 1})
    connection.execute("set enable_progress_bar = false")
    return connection


def read(build: Path, query: str, **parameters: object) -> pd.DataFrame:
    """Answer of a query on a build; `$name` in the query is a parameter, never text pasted in."""
    with open_build(build) as connection:
        frame: pd.DataFrame = connection.execute(query, parameters or None).df()
        return frame


def read_records(build: Path, query: str, **parameters: object) -> list[dict[str, Any]]:
    """Answer of a query as one plain dict a row, empty cells as None."""
    with open_build(build) as connection:
        cursor = connection.execute(query, parameters or None)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def read_named(build: Path, name: str, **parameters: object) -> pd.DataFrame:
    """Answer of a query kept as a file, such as `reads/job_list`."""
    return read(build, sql_text(name), **parameters)


def sql_text(name: str) -> str:
    """The text of one SQL file, such as `core/jobs`."""
    return (SQL_DIR / f"{name}.sql").read_text(encoding="utf-8")


def read_table(build: Path, table: str) -> pd.DataFrame:
    """A whole table of a build, in the order of its key; BookError names the tables when there is none such."""
    with open_build(build) as connection:
        frame: pd.DataFrame = _named(connection, table).df()
        return frame


def read_arrow(build: Path, table: str) -> pa.Table:
    """A whole table of a build as Arrow, its types kept, in the order of its key."""
    with open_build(build) as connection:
        return _named(connection, table).to_arrow_table()


def _named(connection: duckdb.DuckDBPyConnection, table: str) -> duckdb.DuckDBPyRelation:
    names = sorted(row[0] for row in connection.execute("select table_name from duckdb_tables()").fetchall())
    if table not in names:
        raise BookError(f"There is no table {table!r}; there are {', '.join(names)}.")
    key = BUILT[table].key if table in BUILT else ()
    return connection.table(table).order(", ".join(key)) if key else connection.table(table)
