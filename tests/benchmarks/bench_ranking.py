"""Where the next quarter hour brings most: does the emitter ranked first give more than one taken at random?

    python -m tests.benchmarks.bench_ranking [--jobs 1000] [--seed 71] [--worlds usual two_speeds]

Simulated worlds, learnt from the first 60 % of the jobs by time. In the later jobs done one emitter at a time, at 25,
50 and 75 % of the flush, each emitter still waiting is ranked by what it is expected to give, and held against what
it gave in its first quarter hour when its turn came, as a share of the most that any gave. `random`, `largest`:
the same for an emitter taken at random, and for the one that holds most water. Coverage is of the 80 % ranges of all.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

from dashboard.services.build_tables import whole_tables
from dashboard.services.replaying import past_jobs
from models.catch.exhaustion.emitter_priority import QUARTER_MINUTES
from models.catch.records.flush_clock import clock_at, minutes_at
from models.catch.records.job import JobCatch, emitter_curve
from models.catch.replay import in_time, learnt_before
from models.catch.stopping.train_stopping import Learnt
from models.catch.watch import watch
from pipeline.intake.load import load
from pipeline.store.book import Book
from synthetic_data.simulate import simulate_to_folder

SHARES = (0.25, 0.5, 0.75)
LEARN_SHARE = 0.6
MIN_WAITING = 3


def world(scenario: str, jobs: int, seed: int) -> list[JobCatch]:
    """Finished jobs of a simulated world, by time."""
    with TemporaryDirectory() as folder:
        logs, book = Path(folder) / "logs", Book(Path(folder) / "book")
        simulate_to_folder(logs, jobs=jobs, seed=seed, scenario=scenario, format="parquet", progress=None)
        load([logs], book)
        return in_time(past_jobs(whole_tables(book.current()), book.firm()))


def first_quarter(job: JobCatch, number: int) -> float | None:
    """Kilograms an emitter gave in its first quarter hour of flow, straight between weighings; None: had it less."""
    minutes, kg = emitter_curve(job, number)
    if minutes.size == 0 or minutes[-1] < QUARTER_MINUTES:
        return None
    return float(np.interp(QUARTER_MINUTES, np.append(0.0, minutes), np.append(0.0, kg)))


def told(job: JobCatch, share: float, learnt: Learnt | None) -> list[dict[str, float]]:
    """Emitters waiting at a share of the flush, the first-ranked first, with what each then gave."""
    if job.ended_at is None:
        return []
    end = minutes_at(job.days, job.ended_at)
    seen = watch(job, clock_at(job.days, job.ended_at, end, share * end), learnt, all_fits=False)
    waiting = {each.emitter_no for each in seen.emitters if each.catches == 0}
    litres = {facts.emitter_no: facts.content_l or 0.0 for facts in job.emitters}
    rows = []
    for each in seen.next_quarter_hour:
        gave = first_quarter(job, each.emitter_no) if each.emitter_no in waiting and each.emitter_no else None
        if gave is not None and each.emitter_no is not None:
            rows.append(
                {
                    "gave": gave,
                    "told": each.expected_kg,
                    "litres": litres.get(each.emitter_no, 0.0),
                    "inside": float(each.kg.p10 <= gave <= each.kg.p90),
                }
            )
    return rows


def score(found: list[list[dict[str, float]]], rng: np.random.Generator) -> dict[str, float]:
    """Sums over situations, as shares of the best possible, and the coverage of all ranges."""
    gave = [np.array([row["gave"] for row in rows]) for rows in found]
    best = sum(float(each.max()) for each in gave)
    litres = [np.array([row["litres"] for row in rows]) for rows in found]
    largest = sum(float(each[size.argmax()]) for each, size in zip(gave, litres, strict=True))
    every = pd.DataFrame([row for rows in found for row in rows])
    return {
        "situations": len(found),
        "first": sum(float(each[0]) for each in gave) / best,
        "largest": largest / best,
        "random": sum(float(rng.choice(each)) for each in gave) / best,
        "mean": sum(float(each.mean()) for each in gave) / best,
        "coverage_80": float(every["inside"].mean()),
        "told_per_given": float(every["told"].sum() / every["gave"].sum()),
    }


def main() -> None:
    """Print each world, with and without past jobs."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--jobs", type=int, default=1000)
    asked.add_argument("--seed", type=int, default=71)
    asked.add_argument("--worlds", nargs="+", default=["usual", "two_speeds"])
    args = asked.parse_args()
    for scenario in args.worlds:
        jobs = world(scenario, args.jobs, args.seed)
        cut = round(LEARN_SHARE * len(jobs))
        for name, learnt in (("past jobs", learnt_before(jobs, cut)), ("none", None)):
            found = [
                rows
                for job in jobs[cut:]
                for share in SHARES
                for rows in (told(job, share, learnt),)
                if len(rows) >= MIN_WAITING
            ]
            line = "  ".join(f"{key} {value:.2f}" for key, value in score(found, np.random.default_rng(1)).items())
            sys.stdout.write(f"{scenario}, {name}: {line}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
