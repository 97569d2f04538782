"""A Spark Connect server as the engine of a pool: Apache Spark or any other that speaks its protocol.

The server reads and writes the lake's own files, so it must see the folder under the same path.
"""

from __future__ import annotations

import os
import re
import socket
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl

from pipeline.build import REFERENCES, BuildError
from pipeline.contract import BUILT
from pipeline.contract.firm import Firm
from pipeline.contract.reference_tables import reference_path
from pipeline.pool.engines import (
    CHECKED,
    OF_FIRM,
    STEPS_OF_A_POOL,
    Progress,
    checked_files,
    firm_of,
    write_empty_tables,
)
from pipeline.pool.lake import Part, PoolError
from pipeline.pool.translate import MISSING, spark_step

if TYPE_CHECKING:
    from pyspark.sql.connect.client.retries import RetryPolicy
    from pyspark.sql.connect.session import SparkSession

_HOST = re.compile(r"sc://([^/\s:]+)(?::(\d+))?(?:/.*)?")
USUAL_PORT = 15002
PATIENCE_S = 5.0
SETTINGS = {
    "spark.sql.session.timeZone": "UTC",
    "spark.sql.ansi.enabled": "false",
    "spark.sql.parquet.inferTimestampNTZ.enabled": "true",
}
"""Times are local wall-clock without a zone; a division by zero is empty, as in DuckDB."""


class OnServer:
    """The steps on a Spark Connect server, each table written before the next step reads it."""

    def __init__(self, address: str) -> None:
        """`address` is `sc://HOST:PORT`; PoolError where it is not."""
        if not _HOST.fullmatch(address):
            raise PoolError(f"{address} is no address of a Spark Connect server; write sc://HOST:PORT.")
        self.address = address

    def run(self, parts: tuple[Part, ...], firm: Firm, out: Path, progress: Progress | None = None) -> None:
        """See `Engine`."""
        empty = out / ".empty"
        write_empty_tables(parts, firm, empty)
        with _session(self.address) as spark:
            with _told(self.address, "the rows of the firms"):
                _attach(spark, parts, firm, empty)
            for number, step in enumerate(STEPS_OF_A_POOL, start=1):
                if progress:
                    progress(number, len(STEPS_OF_A_POOL), step)
                with _told(self.address, step):
                    _run_step(spark, step, out, empty)


@contextmanager
def _session(address: str) -> Iterator[SparkSession]:
    client = _client()
    _look_for(address)
    with _told(address, ""):
        spark = client.builder.remote(address).getOrCreate()
        spark.client.set_retry_policies([_patience()])
        for name, value in SETTINGS.items():
            spark.conf.set(name, value)
    try:
        yield spark
    finally:
        with suppress(Exception):  # a server that is gone has nothing to be told
            spark.stop()


def _look_for(address: str) -> None:
    """PoolError where nobody listens: the client itself would try for minutes."""
    host, port = _HOST.fullmatch(address).groups()  # type: ignore[union-attr]
    try:
        socket.create_connection((host, int(port or USUAL_PORT)), PATIENCE_S).close()
    except OSError as error:
        raise _gone(address) from error


def _patience() -> RetryPolicy:
    """Five tries in some ten seconds: a server that restarts has lost the build's tables anyway."""
    from pyspark.sql.connect.client.retries import DefaultPolicy

    return DefaultPolicy(max_retries=5, max_backoff=4000)


def _gone(address: str) -> PoolError:
    return PoolError(f"The server {address} does not answer; the pool stays as it was built before.")


def _client() -> type[SparkSession]:
    """The client's class. It warns of pandas 3, which nothing here asks of it: rows go by Parquet files.

    Client 4.2 ends the program as it is loaded where no `SPARK_HOME` is set, though it needs none.
    """
    os.environ.setdefault("SPARK_HOME", "")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", FutureWarning)
            from pyspark.sql.connect.session import SparkSession
    except ImportError as error:
        raise PoolError(MISSING) from error
    return SparkSession


@contextmanager
def _told(address: str, step: str) -> Iterator[None]:
    """What the server or the way to it refuses, in a sentence."""
    try:
        yield
    except (PoolError, BuildError):
        raise
    except Exception as error:  # the client raises many kinds, of its own and of gRPC
        if _is_gone(error):
            raise _gone(address) from error
        raise BuildError(step, error) from error


def _is_gone(error: Exception) -> bool:
    said = str(error)
    return any(word in said for word in ("UNAVAILABLE", "failed to connect", "Connection refused", "Socket closed"))


def _attach(spark: SparkSession, parts: tuple[Part, ...], firm: Firm, empty: Path) -> None:
    """Checked rows, trade tables and settings under the names that the SQL reads."""
    for table in CHECKED:
        spark.read.parquet(*checked_files(parts, table)).createOrReplaceTempView("checked_" + table)
    given = {"ref_" + name: pl.read_csv(reference_path(name)) for name in REFERENCES}
    ratios = {name: [getattr(firm, name)] for name in ("wet_dry_ratio", "other_wet_dry_ratio")}
    given |= {"book_settings": pl.DataFrame(ratios)}
    given |= {"kept_wet_dry_pair": pl.DataFrame(schema={"firm_id": pl.String, "wet_dry_ratio": pl.Float64})}
    for name, frame in given.items():
        path = empty / f"given_{name}.parquet"
        frame.write_parquet(path)
        spark.read.parquet(str(path)).createOrReplaceTempView(name)


def _run_step(spark: SparkSession, step: str, out: Path, empty: Path) -> None:
    one = spark_step(step)
    rows = spark.sql(one.select)
    folder = out / one.table if one.table in BUILT else empty / "staging" / one.table
    written: Any
    if one.table in BUILT:
        written = rows.selectExpr("*", firm_of(one.table) + " as " + OF_FIRM).write.partitionBy(OF_FIRM)
    else:
        written = rows.write
    written.mode("overwrite").parquet(str(folder))
    made = spark.read.parquet(str(folder)) if _has_rows(folder) else None
    if made is None:
        made = spark.read.parquet(str(empty / f"{one.table}.parquet"))
    made.drop(OF_FIRM).createOrReplaceTempView(one.table)


def _has_rows(folder: Path) -> bool:
    """Whether the server wrote a file: a table without a row may have none."""
    return any(folder.rglob("*.parquet"))
