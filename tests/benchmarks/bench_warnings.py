"""Warnings while flushing: how often on normal jobs, how often and how soon where a fault was planted.

    python -m tests.benchmarks.bench_warnings [NORMAL_JOBS] [FAULTY_JOBS] [SEED]
    python -m tests.benchmarks.bench_warnings worlds [JOBS] [SEED]
    python -m tests.benchmarks.bench_warnings bound [NORMAL_JOBS] [FAULTY_JOBS] [SEED]

Normal jobs are of the world `usual` (`worlds`: of every other world too), faulty ones of `faulty_days`, of other seeds
than the thresholds were set on (21 and 22). A rule is asked at every weighing and reading; a job is warned of if it
ever says yes (for a planted fault: after its onset). What the quote expects comes from a model trained on the normal
jobs' older half; only jobs of the newer half count. False alarms with Clopper-Pearson 95 % limits; a one-pipe house
taken for two-pipe is no normal job but a by-pass nobody planted, and is told apart. `bound` tells what a boosted
classifier reaches that sees the whole log of a job at its end, at 2 false alarms in 100: what a log can tell at most.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import beta

from dashboard.services.build_tables import WATCH_TABLES, watched_job_frames
from models.catch.records.flush_clock import minutes_at
from models.catch.records.job import JobCatch
from models.catch.records.job_frames import job_catches
from models.catch.warnings.alerts import RULES
from models.catch.warnings.quote_expectation import with_expected
from models.quote.model.quote_model import QuoteModel
from models.quote.train import train_quote
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_to_folder

TABLES = (*WATCH_TABLES, "ftr_outcome")
KEY = ["firm_id", "job_id"]
TRUTH = ["job_fault", "job_fault_from", "job_is_one_pipe", "job_has_sand", "job_volume_l"]
Frames = dict[str, pd.DataFrame]


class Case(NamedTuple):
    """A job with what was planted: the fault, its onset [flush min], one-pipe taken for two-pipe, sand in it."""

    job: JobCatch
    fault: str
    onset: float
    is_missed_loop: bool
    has_sand: bool


def world(scenario: str, jobs: int, seed: int) -> Frames:
    with TemporaryDirectory() as name:
        logs = Path(name) / "logs"
        simulate_to_folder(logs, jobs=jobs, seed=seed, scenario=scenario, format="parquet", progress=None)
        book = Book(Path(name) / "book")
        load([logs], book)
        found = {table: read_table(book.current(), table) for table in TABLES}
        truth = pd.read_parquet(Path(name) / "logs-truth.parquet").drop_duplicates(KEY)
    return {**found, "truth": truth.set_index(KEY)[TRUTH]}


def newer_half(frames: Frames) -> pd.DataFrame:
    jobs = frames["jobs"].sort_values("visit_date")
    return jobs[len(jobs) // 2 :]


def model_of(frames: Frames) -> QuoteModel:
    newer = pd.MultiIndex.from_frame(newer_half(frames)[KEY])
    features = frames["ftr_quote"]
    return train_quote(features[~pd.MultiIndex.from_frame(features[KEY]).isin(newer)], frames["ftr_outcome"])


def cases(frames: Frames, jobs: pd.DataFrame, model: QuoteModel) -> list[Case]:
    found = with_expected(list(job_catches(watched_job_frames({**frames, "jobs": jobs}.__getitem__))), model)
    made = []
    for job in found:
        true = frames["truth"].loc[(job.firm_id, job.job_id)]
        begins = true["job_fault_from"]
        onset = 0.0 if pd.isna(begins) else minutes_at(job.days, pd.Timestamp(begins).to_pydatetime())
        is_missed = bool(true["job_is_one_pipe"]) and job.setup.pipe_layout != "one_pipe"
        made.append(Case(job, str(true["job_fault"]), onset, is_missed, bool(true["job_has_sand"])))
    return made


def warned(job: JobCatch, since: float = 0.0) -> dict[str, float]:
    """Rule → the first flush minute at which it warns, from `since` on."""
    moments = sorted({*(c.minutes for c in job.catches), *job.readings.minutes.tolist()})
    first: dict[str, float] = {}
    for now in (m for m in moments if m >= since):
        known = job.known_at(job.last_at, now)
        for name, rule in RULES.items():
            if name not in first and rule(known, now) is not None:
                first[name] = now
    return first


def limits(k: int, n: int) -> tuple[float, float]:
    low = float(beta.ppf(0.025, k, n - k + 1)) if k else 0.0
    return low, float(beta.ppf(0.975, k + 1, n - k)) if k < n else 1.0


def say_alarms(name: str, found: Iterable[Case]) -> None:
    """False alarms a rule, among jobs with nothing planted; one-pipe taken for two-pipe apart."""
    normal = [case for case in found if case.fault == "none"]
    told = [(case, warned(case.job)) for case in normal]
    loops = sum(case.is_missed_loop for case in normal)
    of = max(len(normal) - loops, 1)
    sys.stdout.write(f"{name}: {len(normal)} normal jobs, {loops} of them one-pipe taken for two-pipe\n")
    for rule in RULES:
        alarms = [case for case, first in told if rule in first]
        false = [case for case in alarms if not case.is_missed_loop]
        low, high = limits(len(false), of)
        sandy = sum(case.has_sand for case in false)
        sys.stdout.write(
            f"  {rule:<15} {len(false) / of:6.1%}  ({low:.1%} to {high:.1%}), {sandy} with sand; "
            f"{len(alarms) - len(false)} of {loops} loops\n"
        )


def say_hits(found: Iterable[Case]) -> None:
    """Share of planted faults told by each rule and by any, and minutes from onset to the first warning of any."""
    tally: dict[str, Counter[str]] = {}
    delays: dict[str, list[float]] = {}
    for case in found:
        first = warned(case.job, case.onset)
        counts = tally.setdefault(case.fault, Counter())
        counts.update(["jobs", *first, *(["any"] if first else [])])
        delays.setdefault(case.fault, []).extend([min(first.values()) - case.onset] if first else [])
    columns = (*RULES, "any")
    sys.stdout.write(f"\n{'planted fault':<21} jobs " + "".join(f"{name:>15}" for name in columns) + "  minutes\n")
    for kind, counts in sorted(tally.items()):
        shares = "".join(f"{counts[name] / counts['jobs']:15.0%}" for name in columns)
        middle = f"{np.median(delays[kind]):7.0f}" if delays[kind] else "      –"
        sys.stdout.write(f"{kind:<21} {counts['jobs']:4d} {shares}  {middle}\n")


def hits(normal: int, faulty: int, seed: int) -> None:
    usual = world("usual", 2 * normal, seed)
    model = model_of(usual)
    say_alarms("usual", cases(usual, newer_half(usual), model))
    bad = world("faulty_days", faulty, seed + 1)
    say_hits(cases(bad, bad["jobs"], model))


def worlds(jobs: int, seed: int) -> None:
    for name in SCENARIOS:
        if name != "faulty_days":
            frames = world(name, 2 * jobs, seed)
            say_alarms(name, cases(frames, newer_half(frames), model_of(frames)))


def main(asked: list[str]) -> None:
    what = asked.pop(0) if asked and not asked[0].isdigit() else "hits"
    given = [int(text) for text in asked]
    if what == "worlds":
        worlds(*(given + [200, 61][len(given) :]))
    elif what == "bound":
        from tests.benchmarks.warning_bound import bound

        bound(*(given + [500, 1500, 51][len(given) :]))
    else:
        hits(*(given + [500, 800, 51][len(given) :]))


if __name__ == "__main__":
    np.seterr(all="ignore")
    main(sys.argv[1:])
