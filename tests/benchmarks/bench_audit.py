"""Seconds of processor and of clock that the audit takes, by number of jobs: 3,000, 30,000, 100,000.

    python -m tests.benchmarks.bench_audit BOOK [jobs ...]

The jobs are those of a book drawn again with replacement, in blocks with engineers of their own, so that engineers grow
with jobs as they do in a pool (some 130 jobs each in simulated books).
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

from models.practice.audit import audit
from models.practice.cohort.audited_jobs import PracticeFrames
from pipeline.contract.firm import Firm
from pipeline.store.book import Book, read_table

TABLES = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")


def drawn(tables: list[pd.DataFrame], jobs: int, rng: np.random.Generator) -> PracticeFrames:
    """So many jobs of a book, drawn again."""
    held = len(tables[0])
    blocks, left = [], jobs
    while left > 0:
        size = min(held, left)
        blocks.append(rng.integers(held, size=size))
        left -= size
    rows, block = np.concatenate(blocks), np.repeat(np.arange(len(blocks)), [len(each) for each in blocks])
    names = np.array([f"J{at:07d}" for at in range(jobs)])
    frames = [table.iloc[rows].assign(job_id=names) for table in tables]
    frames[0]["engineer_id"] = frames[0]["engineer_id"] + pd.Series(block, index=frames[0].index).astype(str)
    return PracticeFrames(*frames)


def main(book: str, *sizes: int) -> None:
    """Print a row a size."""
    build = Book(Path(book)).current()
    keys = ["firm_id", "job_id"]
    tables = [read_table(build, name).sort_values(keys, ignore_index=True) for name in TABLES]
    rng = np.random.default_rng(1)
    sys.stdout.write("| jobs | clock s | processor s | ms of processor a job | peak MB |\n|---|---|---|---|---|\n")
    for jobs in sizes or (3_000, 30_000, 100_000):
        frames = drawn(tables, jobs, rng)
        started, used = time.perf_counter(), time.process_time()
        audit(frames, Firm())
        clock, processor = time.perf_counter() - started, time.process_time() - used
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        sys.stdout.write(f"| {jobs:,} | {clock:.1f} | {processor:.1f} | {1000 * processor / jobs:.2f} | {peak:.0f} |\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], *(int(arg) for arg in sys.argv[2:]))
