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
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract import BUILT
from pipeline.contract.findings import BookError, Finding, SettingsError
from pipeline.contract.firm import Firm, read_firm, write_default_firm
from pipeline.contract.plain_names import as_typed
from pipeline.contract.whole_files import replace_file, write_whole
from pipeline.store.build_faults import DamagedBuild, make_again, unreadable

if TYPE_CHECKING:
    import duckdb
    import pandas as pd
    import pyarrow as pa

LONGEST_BUILD_NAME = 100
"""The file `current` holds one name of some 23 letters; what is longer was not written by this program."""

POOL_FILE = "pool.json"
ID_KEY = "id.key"
ID_KEY_BYTES = 32

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
        """Whether the folder holds a book; BookError where that may not be looked up."""
        with self._reading():
            return self.received.is_dir()

    @contextmanager
    def _reading(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise BookError(f"The book {self.path} cannot be read: {error.strerror or error}.") from error

    def refuse_pool(self) -> None:
        """BookError where the folder is a pool of many firms' rows: what a firm hands in goes into its own book."""
        with self._reading():
            is_pool = (self.path / POOL_FILE).is_file()
        if is_pool:
            raise BookError(
                f"{self.path} is a pool: load into a firm's own book; `sludgebook pool add` puts that into the pool."
            )

    def create(self) -> None:
        """Make the folder and a commented `firm.toml` unless they are there; BookError when it cannot be."""
        try:
            if self.path.is_dir() and not self.exists() and any(self.path.iterdir()):
                raise BookError(f"{self.path} is a folder with other things in it; name a new folder for the book.")
            for folder in (self.received, self.checked, self.builds):
                folder.mkdir(parents=True, exist_ok=True)
            if not self.firm_file.exists():
                with suppress(SettingsError):  # another program that makes the same book was quicker
                    write_default_firm(self.firm_file)
        except OSError as error:
            reason = error.strerror or str(error)
            raise BookError(f"The book {self.path} cannot be written: {reason}. Name another folder.") from error

    def has_checked(self) -> bool:
        """Whether rows were ever checked here: then settings and key were there."""
        return any(self.checked.glob("[!.]*/stamp.json"))

    def id_key(self) -> bytes:
        """The key under which ids that are e-mail addresses are hidden; made once, kept in the book.

        BookError where it is lost or broken: under another key the ids of new files would not be those of earlier ones.
        """
        path = self.path / ID_KEY
        if not path.is_file() and not self.has_checked():
            self._make_id_key()
        fault = self.id_key_fault()
        if fault:
            raise BookError(fault)
        return path.read_bytes()

    def id_key_fault(self) -> str:
        """What is wrong with the key, with the remedy; empty where nothing is."""
        path = self.path / ID_KEY
        if path.is_file() and path.stat().st_size == ID_KEY_BYTES:
            return ""
        what = f"has {path.stat().st_size} bytes and not {ID_KEY_BYTES}" if path.is_file() else "is missing"
        return (
            f"The key {path}, under which ids that are e-mail addresses are hidden, {what}; restore it from a backup, "
            f"or let `sludgebook rebuild --book {as_typed(self.path)}` make a new one and hide every id again."
        )

    def renew_id_key(self) -> None:
        """Make the key anew where it is lost or broken; a broken one is kept beside it."""
        path = self.path / ID_KEY
        if not self.id_key_fault():
            return
        if path.is_file():
            replace_file(path, path.with_name(f"{ID_KEY}.broken"))
        self._make_id_key()

    def _make_id_key(self) -> None:
        path = self.path / ID_KEY
        write_whole(path, secrets.token_bytes(ID_KEY_BYTES))
        path.chmod(0o600)

    def firm(self) -> Firm:
        """The firm's settings, defaults where the file or a key is missing."""
        return read_firm(self.firm_file) if self.firm_file.exists() else Firm()

    def current(self) -> Path:
        """The build to read; BookError with the remedy when there is none.

        Where the file `current` is lost or spoilt, the build published last is read: builds tell it by their times.
        """
        with self._reading():
            return self._current()

    def _current(self) -> Path:
        if not self.path.exists():
            raise BookError(
                f"There is no book at {self.path}. `sludgebook load PATH --book {as_typed(self.path)}` makes one."
            )
        if not self.exists():
            raise BookError(self._no_received())
        name = self.named_build()
        if name is None:
            return self._published_last()
        if not (self.builds / name).is_file():
            raise BookError(f"The book {self.path} names a build that is not there; {make_again(self.builds / name)}")
        return self.builds / name

    def _no_received(self) -> str:
        if self.builds.is_dir() or (self.path / "quotes").is_dir() or (self.path / "on_site").is_dir():
            return (
                f"The folder `received` of the book {self.path} is missing, which holds every file as it came; "
                "restore it from a backup."
            )
        return f"{self.path} is no book: it has no folder `received`. Name the book's own folder."

    def named_build(self) -> str | None:
        """The name in the file `current`; None where there is no such file or no name in it."""
        pointer = self.path / "current"
        if not pointer.is_file():
            return None
        with pointer.open("rb") as file:
            name = file.read(LONGEST_BUILD_NAME + 1).decode("utf-8", errors="replace").strip()
        is_name = 0 < len(name) <= LONGEST_BUILD_NAME and name.isprintable() and Path(name).name == name
        return name if is_name and name.endswith(".duckdb") else None

    def _published_last(self) -> Path:
        builds = [(path.stat().st_mtime_ns, path.name, path) for path in self.builds.glob("[!.]*.duckdb")]
        if builds:
            return max(builds)[2]
        if any(not folder.name.startswith(".") for folder in self.received.iterdir()):
            raise BookError(
                f"The book {self.path} has received files, but no build of them is there; "
                f"{make_again(self.builds / 'none')}"
            )
        raise BookError(f"The book {self.path} holds no jobs yet. `sludgebook load PATH --book {as_typed(self.path)}`.")

    def is_empty(self) -> bool:
        """A book to be: an empty folder, or a book into which no job log was ever loaded."""
        with self._reading():
            if self.exists():
                return not (self.path / "current").is_file() and not any(self.received.iterdir())
            return self.path.is_dir() and not any(self.path.iterdir())

    def publish(self, build: Path) -> None:
        """Make `build` the current one, by an atomic rename; its time tells that it was published last."""
        current, said = self.path / "current", f"{build.name}\n".encode()
        if current.is_file() and current.read_bytes() == said:
            return
        os.utime(build)
        write_whole(current, said)

    def models_dir(self, build: Path) -> Path:
        """Where the models fitted on that build are kept."""
        return self.path / "models" / build.stem

    def fitted_models(self, build: Path) -> Path | None:
        """Models to use for a build: its own, else the newest fitted on an earlier one, else None.

        A load makes a new build at once; until the models are fitted again the earlier ones still serve.
        """
        own = self.models_dir(build)
        try:
            fitted = _fitted(own.parent)
        except OSError as error:
            raise BookError(
                f"The models in {error.filename or own.parent} cannot be read: {error.strerror or error}. "
                "Nothing is known to be wrong with them; see to the rights and the disk."
            ) from error
        return own if own in fitted else max(fitted, key=lambda folder: fitted[folder], default=None)


def _fitted(models: Path) -> dict[Path, int]:
    """Folders of whole models with the time of the newest in each; OSError where one may not be looked into."""
    found: dict[Path, int] = {}
    for folder in _folders(models):
        for model in _folders(folder):
            with suppress(FileNotFoundError):
                found[folder] = max(found.get(folder, 0), (model / "manifest.json").stat().st_mtime_ns)
    return found


def _folders(folder: Path) -> list[Path]:
    """The folders in a folder, hidden ones left out; none where it is not there."""
    try:
        return [Path(each.path) for each in os.scandir(folder) if each.is_dir() and not each.name.startswith(".")]
    except FileNotFoundError:
        return []


def model_age(folder: Path, build: Path) -> tuple[Finding, ...]:
    """A finding where the models in `folder` were fitted on another build than the one being read."""
    if folder.name == build.stem:
        return ()
    sentence = "The forecasts were learnt before the newest load; learn again so that they know its jobs."
    return (Finding("model_older_than_records", sentence, {"fitted_on": folder.name, "build": build.stem}),)


@contextmanager
def open_build(build: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection; BookError with a sentence for each cause, DamagedBuild where the content is broken."""
    import duckdb

    try:
        connection = duckdb.connect(str(build), read_only=True)
    except duckdb.Error as error:
        raise unreadable(build, error) from error
    try:
        yield connection
    except duckdb.Error as error:
        raise unreadable(build, error) from error
    finally:
        connection.close()


def is_damaged(build: Path) -> bool:
    """Whether the build cannot even be opened because its content is broken; BookError where something else is in the
    way of opening it."""
    try:
        with open_build(build):
            return False
    except DamagedBuild:
        return True


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


_NAMES = """
select table_name from duckdb_tables()
union all
select view_name from duckdb_views() where not internal
"""
"""A book's build holds tables, a pool's views over the files of its firms."""


def _named(connection: duckdb.DuckDBPyConnection, table: str) -> duckdb.DuckDBPyRelation:
    names = sorted(row[0] for row in connection.execute(_NAMES).fetchall())
    if table not in names:
        raise BookError(f"There is no table {table!r}; there are {', '.join(names)}.")
    key = BUILT[table].key if table in BUILT else ()
    return connection.table(table).order(", ".join(key)) if key else connection.table(table)
