"""Who runs the SQL of a pool: what every engine can do, and DuckDB in this process."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import duckdb

from pipeline.build import ACCOUNTS, STEPS, attach_settings, no_pairs, put_table, run_steps
from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.firm import Firm
from pipeline.pool.lake import Part
from pipeline.pool.translate import BY_BATCH
from pipeline.store.book import new_build

Progress = Callable[[int, int, str], None]

OF_FIRM = "of_firm"
"""The column by which tables are cut into files; it is no column of a table."""
CHECKED = (*JOB_LOG, *ACCOUNTS)
STEPS_OF_A_POOL = STEPS


class Engine(Protocol):
    """Runs every step over the given parts and leaves `<out>/<table>/of_firm=<firm>/*.parquet` for each built table."""

    def run(self, parts: tuple[Part, ...], firm: Firm, out: Path, progress: Progress | None = None) -> None:
        """Work out all tables of these firms. PoolError or BuildError where a step fails; then nothing counts."""


def checked_files(parts: tuple[Part, ...], table: str) -> list[str]:
    """The files of one checked table, a firm each."""
    return [str(part.folder / f"{table}.parquet") for part in parts]


def firm_of(table: str) -> str:
    """How a row of a built table tells its firm, in SQL that both engines read."""
    return "firm_id" if "firm_id" in BUILT[table].names else BY_BATCH


class InProcess:
    """DuckDB, in this process, from the files as they are."""

    def run(self, parts: tuple[Part, ...], firm: Firm, out: Path, progress: Progress | None = None) -> None:
        """See `Engine`."""
        with new_build(Path(":memory:")) as connection:
            for table in CHECKED:
                rows = connection.read_parquet(checked_files(parts, table), hive_partitioning=False)
                connection.register("checked_" + table, rows)
            attach_settings(connection, firm)
            put_table(connection, "kept_wet_dry_pair", no_pairs())
            run_steps(connection, STEPS_OF_A_POOL, progress)
            for table in BUILT:
                _write_by_firm(connection, table, out / table)


def _write_by_firm(connection: duckdb.DuckDBPyConnection, table: str, folder: Path) -> None:
    folder.mkdir(parents=True)
    rows = connection.table(table).project("*, " + firm_of(table) + " as " + OF_FIRM)
    rows.write_parquet(str(folder), partition_by=[OF_FIRM], compression="zstd")


def write_empty_tables(parts: tuple[Part, ...], firm: Firm, folder: Path) -> None:
    """Every table of a build, those of staging too, without a row: `<folder>/<table>.parquet`, with DuckDB's types.

    What a step leaves empty has no file from a cluster, and so no columns: these files tell them.
    """
    folder.mkdir(parents=True)
    with new_build(Path(":memory:")) as connection:
        for table in CHECKED:
            rows = connection.read_parquet(checked_files(parts[:1], table), hive_partitioning=False)
            connection.register("checked_" + table, rows.limit(0))
        attach_settings(connection, firm)
        put_table(connection, "kept_wet_dry_pair", no_pairs())
        run_steps(connection, STEPS_OF_A_POOL)
        for step in STEPS_OF_A_POOL:
            table = step.rpartition("/")[2]
            connection.table(table).write_parquet(str(folder / f"{table}.parquet"))
