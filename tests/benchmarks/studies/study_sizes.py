"""Do the quote's ranges hold at every size of the book, and what does a thin firm gain by borrowing from a pool?

    python -m tests.benchmarks.studies.study_sizes [coverage|borrow|unlike] [JOBS] [WORLD...]

`coverage`: books of 0 to 3,000 jobs drawn from JOBS simulated ones of each world, each tried on 60 later jobs; coverage
of the 80 and 90 % ranges pooled over the books, loss relative to the firm's own median per emitter.
`borrow`: firms of a pool with 40, 100, 200 jobs of their own, alone and with the older jobs of the others; paired.
`unlike`: a firm with 150 jobs of neglected systems among a pool of usual ones: its own ranges against the pool's.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from models.quantiles import LEVELS
from models.quote.base.past_jobs import History, history
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS, TargetModel
from models.quote.estimator.fit_target import learn_target
from models.quote.estimator.rules import per_emitter_rule
from models.quote.model.firm_calibration import firms_of
from models.scores import coverage_of_pit, pinball
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data.simulate import simulate_to_folder

WORLDS = ("usual", "neglected_stock", "new_firm", "lazy_loggers", "two_speeds", "faulty_days")
SIZES = {0: 1, 1: 60, 3: 40, 10: 40, 20: 30, 40: 20, 100: 10, 400: 4, 3000: 1}
"""Books drawn of each size."""
TESTED = 60
_LEVELS = list(LEVELS.values())
Rows = NDArray[np.intp]


def past_of(world: str, jobs: int, seed: int = 3) -> History:
    with TemporaryDirectory() as folder:
        logs = Path(folder) / "logs"
        simulate_to_folder(logs, jobs=jobs, seed=seed, scenario=world, format="parquet", progress=None)
        book = Book(Path(folder) / "book")
        load([logs], book)
        return history(*(read_table(book.current(), name) for name in ("ftr_quote", "ftr_outcome")))


def tried(model: TargetModel, past: History, target: Target, rows: Rows) -> tuple[NDArray[np.float64], float]:
    """PIT of the rows and the mean loss."""
    x, y = past.x[rows], past.targets[target][rows]
    draws = np.random.default_rng(len(rows)).uniform(size=len(rows))
    return model.pit(x, y, draws), float(pinball(y, model.quantiles(x, _LEVELS), _LEVELS).mean())


def books(past: History, target: Target, jobs: int, draws: int) -> Iterator[tuple[Rows, Rows]]:
    """Rows to learn from, and later ones to try."""
    known, rng = np.flatnonzero(np.isfinite(past.targets[target])), np.random.default_rng(jobs)
    for _ in range(draws):
        size = min(len(known), jobs + TESTED) if jobs else len(known)
        rows = np.sort(rng.choice(known, size, replace=False))
        yield rows[:jobs], rows[jobs:]


def coverage(jobs: int, worlds: tuple[str, ...]) -> None:
    say("world            jobs  books  " + "  ".join(f"{t:>24}" for t in TARGETS) + "   80 %, 90 %, loss / per emitter")
    for world in worlds:
        past = past_of(world, jobs)
        for size, draws in SIZES.items():
            if size + TESTED <= len(past):
                say(f"{world:<16} {size:>4}  {draws:>5}  " + "  ".join(_cell(past, t, size, draws) for t in TARGETS))


def _cell(past: History, target: Target, size: int, draws: int) -> str:
    pits, losses, simple = [], [], []
    for learnt, later in books(past, target, size, draws):
        y = past.targets[target]
        model = learn_target(SPECS[target], past.x[learnt], y[learnt], past.days[learnt]).model
        pit, loss = tried(model, past, target, later)
        pits.append(pit)
        losses.append(loss)
        if size:
            simple.append(tried(per_emitter_rule(SPECS[target], past.x[learnt], y[learnt]), past, target, later)[1])
    cover = coverage_of_pit(np.concatenate(pits))
    ratio = f"{np.mean(losses) / np.mean(simple):.2f}" if simple else "   –"
    return f"{cover.share_80:>10.3f} {cover.share_90:.3f} {ratio:>8}"


def borrow(jobs: int) -> None:
    past = past_of("pool", jobs, seed=1)
    firms = firms_of(past)
    names, counts = np.unique(firms, return_counts=True)
    largest = names[np.argsort(-counts)][:8]
    for target in ("magnetite_kg", "flush_minutes"):
        for size in (40, 100, 200):
            found = [pair for f in largest if (pair := _pair(past, firms, str(f), target, size)) is not None]
            if found:
                _say_pairs(f"{target} {size} own jobs, {len(found)} firms", found)


def _pair(
    past: History, firms: NDArray[np.str_], firm: str, target: Target, size: int
) -> list[tuple[float, ...]] | None:
    """Loss and coverage of the firm's later jobs: alone, and with the other firms' jobs in the book."""
    known = np.isfinite(past.targets[target])
    mine, others = np.flatnonzero(known & (firms == firm)), np.flatnonzero(known & (firms != firm))
    if len(mine) < size + TESTED:
        return None
    rows = np.sort(np.random.default_rng(size).choice(mine, size + TESTED, replace=False))
    learnt, later = rows[:size], rows[size:]
    both = np.sort(np.concatenate([others, learnt]))
    y, found = past.targets[target], []
    for used, pooled in ((learnt, False), (both, True)):
        learned = learn_target(SPECS[target], past.x[used], y[used], past.days[used], firms=firms[used])
        pit, loss = tried(learned.own[firm].model if pooled else learned.model, past, target, later)
        found.append((loss, *_shares(pit)))
    return found


def unlike(jobs: int) -> None:
    usual, neglected = past_of("usual", jobs), past_of("neglected_stock", 650)
    for target in ("magnetite_kg", "flush_minutes"):
        known = np.flatnonzero(np.isfinite(neglected.targets[target]))
        learnt, later = known[:150], known[150:]
        x = np.vstack([usual.x, neglected.x[learnt]])
        y = np.concatenate([usual.targets[target], neglected.targets[target][learnt]])
        days = np.concatenate([usual.days, neglected.days[learnt]])
        firms = np.repeat(["usual", "neglected"], [len(usual), len(learnt)])
        order = np.argsort(days, kind="stable")
        learned = learn_target(SPECS[target], x[order], y[order], days[order], firms=firms[order])
        for name, model in (("own ranges", learned.own["neglected"].model), ("the pool's", learned.model)):
            pit, loss = tried(model, neglected, target, later)
            cover = "80 % {:.3f}  90 % {:.3f}".format(*_shares(pit))
            say(f"{target:<14} {name:<11} {cover}  below middle {np.mean(pit < 0.5):.2f}  loss {loss:.4g}")


def _shares(pit: NDArray[np.float64]) -> tuple[float, float]:
    cover = coverage_of_pit(pit)
    return cover.share_80, cover.share_90


def _say_pairs(title: str, found: list[list[tuple[float, ...]]]) -> None:
    alone, pooled = np.array([p[0] for p in found]), np.array([p[1] for p in found])
    gain = np.log(pooled[:, 0] / alone[:, 0])
    error = gain.std(ddof=1) / np.sqrt(len(gain)) if len(gain) > 1 else np.nan
    say(
        f"{title}: loss borrowed / alone {np.exp(gain.mean()):.3f} (± {error:.3f}); 80 % {alone[:, 1].mean():.3f} → "
        f"{pooled[:, 1].mean():.3f}, 90 % {alone[:, 2].mean():.3f} → {pooled[:, 2].mean():.3f}"
    )


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    what, *rest = sys.argv[1:] or ["coverage"]
    jobs = int(rest[0]) if rest else {"coverage": 1500, "borrow": 4000, "unlike": 1500}[what]
    if what == "coverage":
        coverage(jobs, tuple(rest[1:]) or WORLDS)
    else:
        {"borrow": borrow, "unlike": unlike}[what](jobs)
