"""How long intake takes, as ratios to DuckDB's bare typed CREATE TABLE of the same file, in one run.

    python -m tests.benchmarks.bench_intake [JOBS [ROUNDS]]    120 readings a job; 100,000 jobs are 12 million readings

The bare load and ours take turns; the median of the rounds' ratios is told, of time and of processor time, because
other work on the machine slows one more than the other.

Prints: receive + check of CSV and of Parquet, core + feature build against the same SQL run bare, the same
files handed in again, ten more jobs into the book, and the largest memory of this process.
"""

from __future__ import annotations

import resource
import shutil
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import duckdb
import numpy as np
import polars as pl

from pipeline import build, renew
from pipeline.checks.check_batch import check_batch
from pipeline.intake.load import examined, load, tables_of
from pipeline.store.book import Book, new_build
from pipeline.store.received import find_sources, receive, stage

READINGS = 120
TYPES = {
    "firm_id": "VARCHAR",
    "job_id": "VARCHAR",
    "read_at": "TIMESTAMP",
    "focus_emitter_no": "BIGINT",
    "flow_l_min": "DOUBLE",
    "flow_temp_c": "DOUBLE",
    "return_temp_c": "DOUBLE",
    "turbidity_ntu": "DOUBLE",
    "conductivity_us_cm": "DOUBLE",
    "ph": "DOUBLE",
    "pressure_bar": "DOUBLE",
}


def names(numbers: np.ndarray) -> pl.Series:
    return pl.DataFrame({"n": numbers}).select(pl.format("J{}", pl.col("n").cast(pl.String).str.zfill(6))).to_series()


def write_log(folder: Path, jobs: int, first: int = 0) -> None:
    """A clean log: one jobs row and 120 readings a job, numbers with one or two decimals."""
    chance, rows = np.random.default_rng(first), jobs * READINGS
    day = np.datetime64("2005-01-03T09:00", "us") + (np.arange(first, first + jobs) // 20).astype("timedelta64[D]")
    whole = pl.DataFrame({"firm_id": ["own"] * jobs, "job_id": names(np.arange(first, first + jobs))})
    whole = whole.with_columns(
        pl.lit("sealed").alias("system_type"),
        pl.Series("flush_started_at", day),
        pl.lit(20.0).alias("boiler_output_kw"),
    )
    started = pl.col("flush_started_at")
    whole = whole.with_columns(
        started.dt.date().alias("visit_date"), (started + pl.duration(minutes=240)).alias("flush_ended_at")
    )
    readings = pl.DataFrame(
        {
            "firm_id": ["own"] * rows,
            "job_id": names(np.repeat(np.arange(first, first + jobs), READINGS)),
            "read_at": np.repeat(day, READINGS) + np.tile(np.arange(READINGS), jobs).astype("timedelta64[m]"),
            "focus_emitter_no": chance.integers(1, 12, rows),
            "flow_l_min": chance.normal(20, 2, rows).round(1),
            "flow_temp_c": chance.normal(55, 4, rows).round(1),
            "return_temp_c": chance.normal(50, 4, rows).round(1),
            "turbidity_ntu": chance.normal(300, 20, rows).round(0),
            "conductivity_us_cm": chance.normal(500, 50, rows).round(0),
            "ph": chance.normal(8, 0.2, rows).round(1),
            "pressure_bar": chance.normal(1.4, 0.05, rows).round(2),
        }
    )
    folder.mkdir()
    whole.write_csv(folder / "jobs.csv", datetime_format="%Y-%m-%dT%H:%M")
    readings.write_csv(folder / "readings.csv", datetime_format="%Y-%m-%dT%H:%M")


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def bare_csv(log: Path, out: Path) -> None:
    out.unlink(missing_ok=True)
    with duckdb.connect(str(out)) as connection:
        reading = "create table r as select * from read_csv($file, header = true, columns = "
        connection.execute(reading + repr(TYPES) + ")", {"file": str(log / "readings.csv")})


def bare_parquet(log: Path, out: Path) -> None:
    out.unlink(missing_ok=True)
    with duckdb.connect(str(out)) as connection:
        connection.execute("create table r as select * from read_parquet($f)", {"f": str(log / "readings.parquet")})


def receive_and_check(book: Book, log: Path) -> str:
    book.create()
    staged, contents = examined(stage(book, find_sources([log])[0]), None, b"", [log])
    batch = receive(book, staged, tables_of(contents), datetime.now())
    check_batch(book, batch)
    return batch.batch_id


def bare_build(book: Book, batch: str, out: Path) -> None:
    with new_build(out) as connection:
        build.attach_checked(connection, [book.checked / batch])
        build.attach_settings(connection, book.firm())
        build.put_table(connection, "kept_wet_dry_pair", build.no_pairs())
        for step in build.STEPS:
            connection.execute(build.sql_text(step))


@dataclass(frozen=True)
class Ratios:
    """Median over rounds: seconds of the first, the second's share of it in time and in processor time."""

    bare: float
    time: float
    processor: float
    rounds: tuple[float, ...]


def in_turns(rounds: int, bare: Callable[[], object], ours: Callable[[int], object]) -> Ratios:
    took: list[tuple[float, float, float, float]] = []
    for number in range(rounds):
        busy = time.process_time()
        first = seconds(bare)
        between = time.process_time()
        second = seconds(partial(ours, number))
        took.append((first, second, between - busy, time.process_time() - between))
    times = tuple(second / first for first, second, _, _ in took)
    busy_share = median(second / first for _, _, first, second in took)
    return Ratios(median(each[0] for each in took), median(times), busy_share, times)


def say(what: str, value: float, unit: str) -> None:
    sys.stdout.write(f"{what:<58} {value:8.2f} {unit}\n")


def say_ratios(what: str, found: Ratios, wanted: float) -> None:
    say(what, found.time, f"x (wanted: at most {wanted:g}); processor {found.processor:.2f} x")
    sys.stdout.write(f"    rounds: {', '.join(f'{ratio:.2f}' for ratio in found.rounds)}; bare {found.bare:.2f} s\n")


def main(jobs: int, rounds: int, folder: Path) -> None:
    log, book = folder / "log", Book(folder / "book")
    write_log(log, jobs)

    def check(number: int) -> None:
        receive_and_check(Book(folder / f"book{number}"), log)
        shutil.rmtree(folder / f"book{number}")

    found = in_turns(rounds, lambda: bare_csv(log, folder / "bare.duckdb"), check)
    say_ratios(f"receive + check, CSV, {jobs * READINGS:,} readings", found, 1.8)
    batches: list[str] = []
    checked = seconds(lambda: batches.append(receive_and_check(book, log)))
    built = seconds(lambda: renew.build_book(book, batches))
    sql = seconds(lambda: bare_build(book, batches[0], folder / "sql.duckdb"))
    again = seconds(lambda: load([log], book))
    write_log(folder / "ten", 10, first=jobs)
    ten = seconds(lambda: load([folder / "ten"], book))
    say("core + feature build, to the same SQL run bare", built / sql, "x (wanted: at most 1.3)")
    say("the same files again, to the first load", again / (checked + built), "x (wanted: at most 0.2)")
    say("ten more jobs", ten, "s (wanted: at most 3)")
    as_parquet(folder, log, rounds)
    say("largest memory", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6, "GB (wanted: under 4)")


def as_parquet(folder: Path, log: Path, rounds: int) -> None:
    other = folder / "parquet"
    other.mkdir()
    shutil.copy(log / "jobs.csv", other / "jobs.csv")
    pl.scan_csv(log / "readings.csv", try_parse_dates=True).sink_parquet(other / "readings.parquet")

    def check(number: int) -> None:
        receive_and_check(Book(folder / f"parquet{number}"), other)
        shutil.rmtree(folder / f"parquet{number}")

    found = in_turns(rounds, lambda: bare_parquet(other, folder / "bare2.duckdb"), check)
    say_ratios("receive + check, Parquet, to the bare Parquet load", found, 2)


if __name__ == "__main__":
    with TemporaryDirectory() as place:
        given = dict(enumerate(sys.argv))
        main(int(given.get(1, 100_000)), int(given.get(2, 3)), Path(place))
