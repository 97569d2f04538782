"""How much of what can be known beforehand the quote gets: its loss beside that of forecasts that know far more.

    python -m tests.benchmarks.bench_bound [MANY] [SEED] [WORLD...]

One world of MANY jobs and twelve engineers. The newest quarter is tested. Every forecast is scored by how much less its
pinball loss is than the best simple peer's, which learns from some 1,000 of the older jobs as the quote does:
- `quote`: the shipped model on those 1,000;
- `all jobs`: the shipped model on all older jobs: close to what the answers of a survey and a plan can tell;
- `truth`: quantile boosting on all older jobs that is also told what the simulator hides (kilograms of loose, baked and
  other debris in the house, solved flows, skill, one-pipe, air by the vent): what is left is the day itself.
Gains in per cent; `share` is that of the quote in what all jobs bring, with one paired standard error.
"""

from __future__ import annotations

import sys
import warnings
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import numpy as np
import pandas as pd
import polars as pl
from numpy.typing import NDArray

from models.quantiles import LEVELS
from models.quote.base.past_jobs import History, history
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS, to_log
from models.quote.estimator.fit_target import known_rows, learn_boosted
from models.quote.estimator.peers import PEERS, calibrated_peer
from models.scores import pinball
from models.splits import interleaved
from models.survey_features import amounts
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data import simulate
from synthetic_data.scenarios import SCENARIOS

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

ENGINEERS, BOOK_JOBS = 12, 1000
_LEVELS = list(LEVELS.values())
_KEY = ["firm_id", "job_id"]


def past_and_truth(world: str, jobs: int, seed: int, folder: Path) -> tuple[History, Floats]:
    """Jobs of a world with twelve engineers, and what the simulator knows of each (n, k)."""
    usual = SCENARIOS[world].parameters
    parameters = replace(usual, crew=replace(usual.crew, jobs_per_engineer=jobs / ENGINEERS))
    staffed = {**SCENARIOS, world: replace(SCENARIOS[world], parameters=parameters)}
    with patch.object(simulate, "SCENARIOS", staffed):
        written = simulate.simulate_to_folder(
            folder / "logs", jobs=jobs, seed=seed, scenario=world, format="parquet", progress=None
        )
    book = Book(folder / "book")
    load([folder / "logs"], book)
    past = history(read_table(book.current(), "ftr_quote"), read_table(book.current(), "ftr_outcome"))
    return past, hidden(past, written.truth)


def hidden(past: History, truth: Path) -> Floats:
    """What the truth file holds of each job before its flush (n, k)."""
    sums = [pl.col(f"{n}_before_kg").sum() for n in ("loose", "consolidated", "non_magnetic")]
    flows = [pl.col(f"flow_{n}_l_min").mean() for n in ("own_turn", "all_open")]
    facts = (
        "is_one_pipe",
        "pumps_over",
        "has_sand",
        "volume_l",
        "looks_bad",
        "topups_per_year",
        "wet_dry_ratio",
        "scale_factor",
        "skill",
        "diligence",
    )
    one = pl.read_parquet(truth).group_by(_KEY).agg(*sums, *flows, *(pl.col(f"job_{n}").first() for n in facts))
    joined = past.frame[_KEY].merge(one.to_pandas(), on=_KEY, how="left", validate="one_to_one")
    engineers = pd.get_dummies(past.frame["engineer_id"])
    return np.hstack([joined.drop(columns=_KEY).to_numpy(float), engineers.to_numpy(float)])


def quote_loss(past: History, target: Target, before: Rows, test: Rows) -> Floats:
    """Pinball loss (n,) of the shipped model that learns from the rows `before`."""
    y = past.targets[target]
    model = learn_boosted(SPECS[target], past.x, y, past.days, before).model
    return pinball(y[test], model.quantiles(past.x[test], _LEVELS), _LEVELS)


def best_peer_loss(past: History, target: Target, before: Rows, test: Rows) -> Floats:
    """Pinball loss (n,) of the best simple peer that learns from the rows `before`."""
    y, folds, found = past.targets[target], interleaved(past.days[before]), []
    for name in PEERS:
        peer = calibrated_peer(SPECS[target], name, past.x[before], y[before], folds)
        found.append(pinball(y[test], peer.quantiles(past.x[test], _LEVELS), _LEVELS))
    return min(found, key=np.mean)


def truth_loss(past: History, truth: Floats, target: Target, before: Rows, test: Rows) -> Floats:
    """Pinball loss (n,) of quantile boosting that is told the truth besides the answers."""
    from sklearn.ensemble import HistGradientBoostingRegressor  # takes seconds, and tests are collected without it

    x, spec, y = np.hstack([amounts(past.x), truth]), SPECS[target], past.targets[target]
    x = x[:, [len(np.unique(column[np.isfinite(column)])) > 1 for column in x[before].T]]
    found = []
    for level in _LEVELS:
        model = HistGradientBoostingRegressor(
            loss="quantile",
            quantile=level,
            max_iter=150,
            learning_rate=0.08,
            max_leaf_nodes=12,
            max_features=0.5,
            min_samples_leaf=15,
            early_stopping=False,
            random_state=0,
        )
        model.fit(x[before], to_log(spec, y[before]))
        found.append(np.maximum(np.exp(model.predict(x[test])) - spec.offset, 0.0))
    return pinball(y[test], np.sort(np.column_stack(found), axis=1), _LEVELS)


def line(past: History, truth: Floats, target: Target) -> str:
    n, y = len(past), past.targets[target]
    older, test = known_rows(y, np.arange(n * 3 // 4)), known_rows(y, np.arange(n * 3 // 4, n))
    few = known_rows(y, np.arange(n * 3 // 4)[:: max(1, n * 3 // 4 // BOOK_JOBS)])
    peer = best_peer_loss(past, target, few, test)
    ours, many = quote_loss(past, target, few, test), quote_loss(past, target, older, test)
    most = truth_loss(past, truth, target, older, test)
    here, reach = peer - ours, peer - many
    share = here.mean() / reach.mean()
    error = (here - share * reach).std() / np.sqrt(len(test)) / abs(reach.mean())
    gains = [f"{100 * (1 - loss.mean() / peer.mean()):8.1f}" for loss in (ours, many, most)]
    return f"{target:<16} {len(few):>5} {len(older):>6} {len(test):>6} {' '.join(gains)}   {share:5.0%} ± {error:.0%}\n"


def main(jobs: int, seed: int, worlds: tuple[str, ...]) -> None:
    for world in worlds:
        with TemporaryDirectory() as folder:
            past, truth = past_and_truth(world, jobs, seed, Path(folder))
        sys.stdout.write(
            f"{world}, {jobs} jobs, seed {seed}\n{'':<16} {'book':>5} {'older':>6} {'tested':>6} "
            f"{'quote':>8} {'all jobs':>8} {'truth':>8}   share\n"
        )
        for target in TARGETS:
            sys.stdout.write(line(past, truth, target))
            sys.stdout.flush()


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    asked = sys.argv[1:]
    main(int(asked[0]) if asked else 6000, int(asked[1]) if len(asked) > 1 else 3, tuple(asked[2:]) or ("usual",))
