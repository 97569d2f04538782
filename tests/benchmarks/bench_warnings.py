"""Warnings while flushing: how often on normal jobs, how often where a fault was planted.

    python -m tests.benchmarks.bench_warnings [NORMAL_JOBS] [FAULTY_JOBS] [SEED]

Normal jobs are of the world `usual`, faulty ones of `faulty_days`, of other seeds than the thresholds were set on
(21 and 22). A rule is asked at every weighing and reading; a job is warned of if it ever says yes (for a planted
fault: after its onset). What the quote expects comes from a model trained on the normal jobs' older half; only
jobs of the newer half count. False alarms with Clopper-Pearson 95 % limits.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from scipy.stats import beta

from models.catch.alerts import RULES
from models.catch.clock import minutes_at
from models.catch.expected import with_expected
from models.catch.frames import CatchFrames, job_catches
from models.catch.job import JobCatch
from models.quote.model import QuoteModel
from models.quote.train import train_quote
from pipeline.book import Book, read_table
from pipeline.load import load
from synthetic_data.simulate import simulate_to_folder

TABLES = ("jobs", "ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter", "ftr_quote", "readings",
          "ftr_volume", "ftr_outcome")  # fmt: skip
Frames = dict[str, pd.DataFrame]


def world(scenario: str, jobs: int, seed: int) -> Frames:
    with TemporaryDirectory() as name:
        logs = Path(name) / "logs"
        simulate_to_folder(logs, jobs=jobs, seed=seed, scenario=scenario, format="parquet", progress=None)
        book = Book(Path(name) / "book")
        load([logs], book)
        found = {table: read_table(book.current(), table) for table in TABLES}
        truth = pd.read_parquet(Path(name) / "logs-truth.parquet").drop_duplicates("job_id")
    return {**found, "truth": truth[["firm_id", "job_id", "job_fault", "job_fault_from"]]}


def newer_half(frames: Frames) -> pd.DataFrame:
    jobs = frames["jobs"].sort_values("visit_date")
    return jobs[len(jobs) // 2 :]


def model_of(frames: Frames) -> QuoteModel:
    newer = set(newer_half(frames)["job_id"])
    features = frames["ftr_quote"]
    return train_quote(features[~features["job_id"].isin(newer)], frames["ftr_outcome"])


def jobs_of(frames: Frames, jobs: pd.DataFrame, model: QuoteModel) -> list[JobCatch]:
    names = ("ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter", "ftr_quote", "readings",
             "ftr_volume")  # fmt: skip
    found = job_catches(CatchFrames(jobs, *(frames[name] for name in names)))
    return with_expected(list(found), model)


def warned(job: JobCatch, since: float = 0.0) -> dict[str, float]:
    """Rule → the first flush minute at which it warns, from `since` on."""
    moments = sorted({*(c.minutes for c in job.catches), *job.readings.minutes.tolist()})
    first: dict[str, float] = {}
    end = moments[-1] if moments else 0.0
    for now in (m for m in moments if m >= since and m <= end):
        known = job.known_at(job.last_at, now)
        for name, rule in RULES.items():
            if name not in first and rule(known, now) is not None:
                first[name] = now
    return first


def limits(k: int, n: int) -> tuple[float, float]:
    low = float(beta.ppf(0.025, k, n - k + 1)) if k else 0.0
    return low, float(beta.ppf(0.975, k + 1, n - k)) if k < n else 1.0


def main(normal: int, faulty: int, seed: int) -> None:
    usual = world("usual", 2 * normal, seed)
    model = model_of(usual)
    told = [warned(job) for job in jobs_of(usual, newer_half(usual), model)]
    alarms = Counter(name for each in told for name in each)
    sys.stdout.write(f"normal jobs: {len(told)}\n")
    for name in RULES:
        low, high = limits(alarms[name], len(told))
        sys.stdout.write(f"  {name:<15} {alarms[name] / len(told):6.1%}  ({low:.1%} to {high:.1%})\n")
    bad = world("faulty_days", faulty, seed + 1)
    truth = bad["truth"].set_index("job_id")
    hits: dict[str, Counter[str]] = {}
    for job in jobs_of(bad, bad["jobs"], model):
        kind, onset = truth.loc[job.job_id, ["job_fault", "job_fault_from"]]
        since = 0.0 if pd.isna(onset) else minutes_at(job.days, pd.Timestamp(onset).to_pydatetime())
        tally = hits.setdefault(str(kind), Counter())
        tally["jobs"] += 1
        tally.update(set(warned(job, since)))
    sys.stdout.write(f"\n{'planted fault':<22} jobs  " + "  ".join(f"{name:>14}" for name in RULES) + "\n")
    for kind, tally in sorted(hits.items()):
        shares = "  ".join(f"{tally[name] / tally['jobs']:14.0%}" for name in RULES)
        sys.stdout.write(f"{kind:<22} {tally['jobs']:4d}  {shares}\n")


if __name__ == "__main__":
    asked = [int(text) for text in sys.argv[1:]]
    np.seterr(all="ignore")
    main(*(asked + [500, 800, 51][len(asked) :]))
