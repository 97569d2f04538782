"""How good the forecast of a job in progress is on later jobs, and how quick one watch is.

`python -m tests.benchmarks.bench_replay`. Simulated worlds, each loaded into a book of its own: learnt from the first
60 % of the jobs by time, told on the last 40 % at 25, 50 and 75 % of the flush, and every 20 minutes by the clock.
Simulated data only: it shows that the method finds what is in these worlds.
"""

from __future__ import annotations

import argparse
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from dashboard.services.build_tables import whole_tables
from dashboard.services.replaying import past_jobs
from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import MAGNET, Catch, EmitterFacts, JobCatch
from models.catch.replay import Replayed, end_of, in_time, learnt_before, replayed, replayed_at
from models.catch.replay_clock import clock_scores
from models.catch.replay_scores import quote_quantiles, scores
from models.catch.stopping.stopping_regression import clock_moments
from models.catch.stopping.storage import effects_of
from models.catch.stopping.train_stopping import Learnt
from models.catch.watch import watch
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data.simulate import simulate_to_folder

WORLDS = ("usual", "two_speeds", "lazy_loggers", "no_effects")
SHARES = (0.25, 0.5, 0.75)
LEARN_SHARE = 0.6


def main() -> None:
    """Print the scores of each world and the time of one watch."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--jobs", type=int, default=1000)
    asked.add_argument("--seed", type=int, default=71)
    asked.add_argument("--worlds", nargs="+", default=list(WORLDS))
    args = asked.parse_args()
    learnt: Learnt | None = None
    for world in args.worlds:
        with TemporaryDirectory() as folder:
            logs, book = Path(folder) / "logs", Book(Path(folder) / "book")
            simulate_to_folder(logs, jobs=args.jobs, seed=args.seed, scenario=world, format="csv")
            load([logs], book)
            learnt = tell(world, book)
    if learnt is not None:
        say(f"one watch of 26 emitters and 60 weighings: {watch_ms(learnt):.0f} ms of one processor")


def say(line: str) -> None:
    """One line, at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def tell(world: str, book: Book) -> Learnt | None:
    """Learn, tell and print one world; what was learnt."""
    build = book.current()
    ordered = in_time(past_jobs(whole_tables(build), book.firm()))
    cut = round(LEARN_SHARE * len(ordered))
    learnt = learnt_before(ordered, cut)
    rows = [replayed(ordered[at], at, share, learnt) for at in range(cut, len(ordered)) for share in SHARES]
    features, outcomes = read_table(build, "ftr_quote"), read_table(build, "ftr_outcome")
    quotes = quote_quantiles(ordered, features, outcomes, parts=[(0, cut), (cut, len(ordered))])
    say(f"{world}: learnt from {cut} jobs; errors in kg, ratios against the naive curve and the quote alone")
    for score in scores(rows, ordered, quotes):
        say(
            f"  {score.group:14s} {score.at:4.0%} n {score.jobs:3d}  error {score.error_kg:.3f}"
            f"  curve {_ratio(score.against_naive)}  quote {_ratio(score.against_quote)}"
            f"  pinball {_ratio(score.pinball_against_quote)}  80 %: {score.coverage_80:.3f}"
            f"  90 %: {score.coverage_90:.3f}  minutes 80 %: {score.minutes_coverage_80:.3f}"
        )
    for clock in clock_scores(asked_by_clock(ordered, cut, learnt)):
        when = "" if clock.to_minute is None else f" {clock.from_minute:.0f} to {clock.to_minute:.0f} min"
        say(
            f"  {clock.group + when:32s} n {clock.moments:5d}  80 %: {clock.kg_coverage_80:.3f}"
            f"  minutes 80 %: {clock.minutes_coverage_80:.3f}"
        )
    effects = effects_of(read_table(build, "ftr_catch_curve"), read_table(build, "readings"))
    for effect in effects.effects if effects else ():
        say(f"  {effect.name} {effect.per}: {effect.ratio:.2f} ({effect.low:.2f} to {effect.high:.2f})")
    return learnt


def asked_by_clock(ordered: list[JobCatch], cut: int, learnt: Learnt | None, every: float = 20.0) -> list[Replayed]:
    """The jobs from place `cut` on, in order of time, each every so many minutes until it ended."""
    moments = ((at, end_of(ordered[at])) for at in range(cut, len(ordered)))
    return [
        replayed_at(ordered[at], at, minutes, minutes / end, learnt)
        for at, end in moments
        for minutes in clock_moments(end, every)
    ]


def _ratio(value: float | None) -> str:
    return "  – " if value is None else f"{value:.2f}"


def watch_ms(learnt: Learnt, runs: int = 20) -> float:
    """Processor time of one watch of a large job, in milliseconds: the middle of some runs."""
    job, at = large_job(), datetime(2031, 3, 4, 17, 0)
    watch(job, at, learnt)
    spent = []
    for _ in range(runs):
        started = time.process_time()
        watch(job, at, learnt)
        spent.append(1000.0 * (time.process_time() - started))
    return float(np.median(spent))


def large_job() -> JobCatch:
    """26 emitters, 60 weighings over 20 of them, in one day of 480 minutes."""
    start = datetime(2031, 3, 4, 9, 0)
    catches = tuple(
        Catch(8.0 * (i + 1), i // 3 + 1, 8.0 * (i % 3 + 1), MAGNET, 120.0 * 0.6 ** (i % 3)) for i in range(60)
    )
    facts = tuple(EmitterFacts(number, "panel_22", 8.0, False) for number in range(1, 27))
    last = start + timedelta(minutes=480)
    return JobCatch("own", "large", start, None, (DayOnSite(start, last, 0.0),), catches, facts)


if __name__ == "__main__":
    main()
