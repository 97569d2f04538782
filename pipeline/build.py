"""Build the book: checked rows in, one DuckDB file of core and feature tables out. Start reading here.

`STEPS` is the main path: each name is one SQL file, run in this order; a file reads only tables made
before it. `REQUEST_STEPS` are the same feature files, run for a quote request, so that history and a
new quote cannot drift apart. A small load changes few jobs: `pipeline/renew.py` runs the same steps for
those jobs alone and puts the result in place.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import duckdb
import polars as pl

from pipeline.contract import BUILT, CONTRACT_VERSION, JOB_LOG
from pipeline.contract.findings import SludgebookError
from pipeline.contract.firm import Firm
from pipeline.contract.reference_tables import reference_path
from pipeline.store.book import Book, new_build, sql_text
from pipeline.store.checked_files import every_file

CORE_STEPS = (
    "staging/stg_job_spans",
    "staging/stg_job_words",
    "staging/stg_jobs",
    "core/jobs",
    "staging/stg_visits",
    "staging/stg_spans",
    "staging/stg_emitters",
    "core/emitters",
    "staging/stg_pipe_runs",
    "core/pipe_runs",
    "staging/stg_catches",
    "core/catches",
    "staging/stg_readings",
    "core/readings",
    "staging/stg_callbacks",
    "core/callbacks",
    "core/logged_days",
    "core/site_days",
    "staging/stg_day_warnings",
    "core/job_ledger",
    "core/visit_rejects",
    "core/row_warnings",
    "staging/stg_catch_warnings",
    "staging/stg_reading_hours",
    "staging/stg_reading_warnings",
    "core/job_warnings",
)
ACCOUNT_STEPS = ("core/ledger", "core/rejects")
REQUEST_STEPS = (
    "features/emitter_contents",
    "features/counted_emitters",
    "features/ftr_emitter",
    "features/emitter_sums",
    "features/ftr_pipe_volume",
    "features/ftr_volume",
    "features/ftr_quote",
)
FEATURE_STEPS = (
    "features/ftr_job_day",
    *REQUEST_STEPS,
    "features/ftr_heat",
    "features/ftr_wet_dry_pair",
    "features/ftr_wet_dry",
    "features/ftr_catch_curve",
    "features/ftr_emitter_curve",
    "features/ftr_outcome",
)
FIRM_STEPS = ("core/follow_up_end", "features/ftr_callback")
STEPS = (*CORE_STEPS, *ACCOUNT_STEPS, *FEATURE_STEPS, *FIRM_STEPS)
REFERENCES = ("tube_bores", "emitter_contents", "typical_emitters", "volume_rules")
ACCOUNTS = ("spans", "sources", "rejects", "warnings")

Progress = Callable[[int, int, str], None]


class BuildError(SludgebookError):
    """A SQL file failed; names the file."""

    def __init__(self, step: str, cause: Exception) -> None:
        super().__init__(f"Building failed in {step}.sql: {str(cause).strip().splitlines()[0]}")
        self.step = step


def build_name(batches: list[str], firm: Firm) -> str:
    """File name of the build, from everything that goes into it: rows, rules, trade tables, settings."""
    digest = hashlib.sha256()
    ratios = repr((firm.wet_dry_ratio, firm.other_wet_dry_ratio))
    rules = (str(CONTRACT_VERSION), ratios, *(sql_text(step) for step in STEPS))
    for part in (*rules, *batches):
        digest.update(part.encode() + b"\x00")
    for name in REFERENCES:
        digest.update(reference_path(name).read_bytes())
    return f"{digest.hexdigest()[:16]}.duckdb"


def build_whole(book: Book, batches: list[str], part: Path, progress: Progress | None = None) -> None:
    """Build everything from the checked batches, in the order received, into the new file `part`."""
    with new_build(part) as connection:
        attach_checked(connection, [book.checked / batch for batch in batches])
        attach_settings(connection, book.firm())
        put_table(connection, "kept_wet_dry_pair", no_pairs())
        connection.execute("begin")  # one write to disk for all that follows
        run_steps(connection, STEPS, progress)
        write_comments(connection)
        connection.execute("commit")


def attach_checked(connection: duckdb.DuckDBPyConnection, folders: list[Path]) -> None:
    """Make `checked_<table>` readable: the Parquet files of all batches, as they stand on disk."""
    for name in JOB_LOG:
        files = [every_file(folder / name) for folder in folders]
        connection.register("checked_" + name, connection.read_parquet(files, hive_partitioning=False))
    for name in ACCOUNTS:
        files = [every_file(folder, f"{name}.parquet") for folder in folders]
        connection.register("checked_" + name, connection.read_parquet(files, hive_partitioning=False))


def attach_settings(connection: duckdb.DuckDBPyConnection, firm: Firm) -> None:
    """Make the trade tables (`ref_<name>`) and the settings that SQL reads (`book_settings`) readable."""
    for name in REFERENCES:
        put_table(connection, "ref_" + name, pl.read_csv(reference_path(name)))
    ratios = {name: [getattr(firm, name)] for name in ("wet_dry_ratio", "other_wet_dry_ratio")}
    put_table(connection, "book_settings", pl.DataFrame(ratios))


def no_pairs() -> pl.DataFrame:
    """An empty table in the shape of the wet / dry pairs that an earlier build keeps."""
    return pl.DataFrame(schema={"firm_id": pl.String, "wet_dry_ratio": pl.Float64})


def put_table(connection: duckdb.DuckDBPyConnection, name: str, frame: pl.DataFrame) -> None:
    """Make a frame readable under a name for as long as the connection lives, empty columns typed."""
    connection.register(name, _Stream(frame))


@dataclass(frozen=True, slots=True, eq=False)
class _Stream:
    """A frame known for its Arrow stream alone: handed over so, it takes no pyarrow, which is slow to import."""

    frame: pl.DataFrame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self.frame.__arrow_c_stream__(requested_schema)


def run_steps(connection: duckdb.DuckDBPyConnection, steps: tuple[str, ...], progress: Progress | None = None) -> None:
    """Run SQL files in order; BuildError names the one that fails."""
    for number, step in enumerate(steps, start=1):
        if progress:
            progress(number, len(steps), step)
        try:
            connection.execute(sql_text(step))
        except duckdb.Error as error:
            raise BuildError(step, error) from error


def write_comments(
    connection: duckdb.DuckDBPyConnection, names: Iterable[str] = tuple(BUILT), kind: str = "table"
) -> None:
    """Write grain, meaning and unit into the database itself, so that any program that opens it can tell."""
    told: list[str] = []
    for table in (BUILT[name] for name in names):
        told.append("comment on " + kind + " " + table.name + " is " + _quoted(table.grain))
        for column in table.columns:
            target = table.name + "." + column.name
            told.append("comment on column " + target + " is " + _quoted(column.label))
    connection.execute(";\n".join(told))


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
