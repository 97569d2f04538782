"""The quote on job logs that no simulator of ours made: coverage overall and by group, loss against the simple peers.

    python -m tests.benchmarks.studies.study_foreign_logs [JOBS] [SEEDS]

The logs are those of `tests/foreign_world.py`, plain statistical laws, written as files and handed in like any log.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from models.quote.backtest import BackTest, backtest
from models.quote.base.quote_result import TARGETS, Target
from models.scores import Coverage
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from tests.foreign_world import write_logs


def scores_of(jobs: int, seed: int) -> BackTest:
    with TemporaryDirectory() as folder:
        write_logs(Path(folder) / "logs", jobs, seed)
        book = Book(Path(folder) / "book")
        load([Path(folder) / "logs"], book)
        return backtest(*(read_table(book.current(), name) for name in ("ftr_quote", "ftr_outcome")))


def pooled(covers: list[Coverage]) -> Coverage:
    jobs = [cover.jobs for cover in covers]
    shares = ([getattr(cover, name) for cover in covers] for name in ("share_80", "share_90"))
    return Coverage(sum(jobs), *(float(np.average(each, weights=jobs)) for each in shares))


def main(jobs: int, seeds: int) -> None:
    found = [scores_of(jobs, seed) for seed in range(1, seeds + 1)]
    sys.stdout.write(f"{jobs} jobs, {seeds} seeds\n")
    for target in TARGETS:
        _say(target, [world for world in found if target in world.targets])


def _say(target: Target, found: list[BackTest]) -> None:
    scores = [world.targets[target] for world in found]
    cover = pooled([each.coverage for each in scores])
    better = ", ".join(f"{each.better_share:+.1%} ({each.best_peer})" for each in scores)
    sys.stdout.write(
        f"{target:<16} {cover.jobs:>6} tested  80 % {cover.share_80:.3f}  90 % {cover.share_90:.3f}"
        f"  loss below the best peer's: {better}\n"
    )
    for name in scores[0].groups:
        group = pooled([each.groups[name] for each in scores])
        far = "  beyond 6 points" if max(abs(group.share_80 - 0.8), abs(group.share_90 - 0.9)) > 0.06 else ""
        shares = f"80 % {group.share_80:.3f}  90 % {group.share_90:.3f}"
        sys.stdout.write(f"    {name:<26} {group.jobs:>6}         {shares}{far}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    main(*(int(each) for each in (sys.argv[1:] + ["2000", "3"][len(sys.argv) - 1 :])))
