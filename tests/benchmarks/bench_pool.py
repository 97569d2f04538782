"""A pool by engine: `python -m tests.benchmarks.bench_pool [--jobs 10000] [--engines duckdb sail] [--server sc://…]`.

One simulated firm of 1,000 jobs is loaded; its checked rows are repeated under new ids until the pool holds so many
jobs, a firm each thousand. Printed for each engine, one after the other in one run: seconds of a whole build, of a
build after one firm changed, most memory of this process and its children, and the ratio to DuckDB in this process.
`sail` starts a server of its own; `--server` names one that runs.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl

from pipeline.intake.load import load
from pipeline.pool.add import add
from pipeline.pool.lake import NEWEST, PART_FILE, Lake, sha256_of
from pipeline.store.book import Book
from synthetic_data.simulate import simulate_to_folder

A_FIRM = 1000
BUILD = "import sys; from dashboard.cli.main import main; sys.argv[0] = 'sludgebook'; main()"


def a_lake(folder: Path, jobs: int) -> Lake:
    """A pool of so many jobs, a firm each thousand."""
    simulate_to_folder(folder / "logs", jobs=A_FIRM, seed=1, scenario="usual", format="parquet", progress=None)
    book, lake = Book(folder / "book"), Lake(folder / "lake")
    load([folder / "logs"], book)
    (first,) = add(book, lake)
    home = lake.firms / first.firm
    part = home / (home / NEWEST).read_text(encoding="utf-8").strip()
    for number in range(1, jobs // A_FIRM):
        repeat(lake, part, f"{first.firm[:-4]}{number:04d}", number)
    return lake


def repeat(lake: Lake, part: Path, firm: str, number: int) -> None:
    """The rows of one firm again as another's."""
    folder = lake.firms / firm / part.name
    folder.mkdir(parents=True)
    said = json.loads((part / PART_FILE).read_text(encoding="utf-8"))
    for path in sorted(part.glob("*.parquet")):
        frame = pl.read_parquet(path)
        changed = [pl.lit(firm).alias("firm_id")] if "firm_id" in frame.columns else []
        if "batch_no" in frame.columns:
            changed.append(pl.col("batch_no") + number)
        if "batch_id" in frame.columns:
            changed.append(pl.lit(firm) + pl.col("batch_id").str.slice(len(firm)).alias("batch_id"))
        frame.with_columns(changed).write_parquet(folder / path.name)
        said["files"][path.name] = ((folder / path.name).stat().st_size, sha256_of(folder / path.name))
    (folder / PART_FILE).write_text(json.dumps(said), encoding="utf-8")
    (lake.firms / firm / NEWEST).write_text(part.name, encoding="utf-8")


@contextlib.contextmanager
def address_of(engine: str, server: str) -> Iterator[str]:
    """What `--engine` takes."""
    if engine != "sail":
        yield server if engine == "server" else engine
        return
    from pysail.spark import SparkConnectServer

    sail = SparkConnectServer("127.0.0.1", 0)
    sail.start(background=True)
    yield f"sc://127.0.0.1:{sail.listening_address[1]}"
    sail.stop()


def build_s(lake: Lake, engine: str, *words: str) -> float:
    """Seconds of `pool build`, in a process of its own."""
    began = time.perf_counter()
    command = [sys.executable, "-c", BUILD, "pool", "build", str(lake.path), "--engine", engine, "--json", *words]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--jobs", type=int, default=10_000)
    parser.add_argument("--engines", nargs="+", default=["duckdb", "sail"])
    parser.add_argument("--server", default="sc://127.0.0.1:15002")
    asked = parser.parse_args()
    with TemporaryDirectory() as name:
        lake = a_lake(Path(name), asked.jobs)
        first = 0.0
        for engine in asked.engines:
            with address_of(engine, asked.server) as address:
                whole = build_s(lake, address, "--anew")
                firm = sorted(path for path in lake.firms.iterdir())[0]
                part = firm / (firm / NEWEST).read_text(encoding="utf-8").strip()
                part.rename(part.with_name(f"{engine}-again"))
                (firm / NEWEST).write_text(f"{engine}-again", encoding="utf-8")
                one = build_s(lake, address)
            first = first or whole
            most_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            own_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            sys.stdout.write(
                f"{engine}: {asked.jobs:,} jobs, whole build {whole:.1f} s ({whole / first:.1f} times duckdb), one "
                f"firm changed {one:.1f} s; memory of a build at most so far {most_mb:.0f} MB, here {own_mb:.0f} MB\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main()
