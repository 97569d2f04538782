"""Back-test of the quote world by world, beside its simple peers and quantile boosting of another library.

    python -m tests.benchmarks.bench_forecasts [JOBS] [SEED] [WORLD...]

The other library (LightGBM, quantile loss, raw quantiles, no calibration) is an outside peer for this table only:
`pip install lightgbm`. Prints pinball loss against the best simple peer, against the linear peer where that is told who
leads too (the peers shown to users are not), and against the other library, coverage overall, and the groups whose 80 %
interval covers less than 74 % or more than 86 %.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

from models.quantiles import LEVELS
from models.quote.backtest import backtest_history
from models.quote.base.past_jobs import History, history
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS
from models.quote.estimator.fit_target import known_rows
from models.quote.estimator.peers import calibrated_peer
from models.scores import pinball
from models.splits import interleaved, rolling_folds
from models.survey_features import amounts
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data.simulate import simulate_to_folder

WORLDS = ("usual", "neglected_stock", "new_firm", "lazy_loggers")


def past_of(world: str, jobs: int, seed: int, folder: Path) -> History:
    simulate_to_folder(folder / "logs", jobs=jobs, seed=seed, scenario=world, format="parquet", progress=None)
    book = Book(folder / "book")
    load([folder / "logs"], book)
    return history(read_table(book.current(), "ftr_quote"), read_table(book.current(), "ftr_outcome"))


def outside_loss(past: History, target: Target) -> float:
    """Mean pinball loss of the other library on the same tested jobs, fitted on all jobs before them."""
    from lightgbm import LGBMRegressor  # not a dependency: tests are collected without it

    y, levels, losses = past.targets[target], list(LEVELS.values()), []
    for fold in rolling_folds(past.days):
        before = known_rows(y, fold.before)
        test = known_rows(y, fold.test)
        found = []
        for level in levels:
            model = LGBMRegressor(
                objective="quantile",
                alpha=level,
                n_estimators=150,
                learning_rate=0.05,
                num_leaves=8,
                min_child_samples=20,
                verbose=-1,
                n_jobs=2,
            )
            model.fit(past.x[before], np.log(y[before] + 0.02))
            found.append(np.exp(model.predict(past.x[test])) - 0.02)
        losses.append(pinball(y[test], np.sort(np.column_stack(found), axis=1), levels))
    return float(np.concatenate(losses).mean())


def told_line_loss(past: History, target: Target) -> float:
    """Mean pinball loss of the linear peer with a column an engineer, on the same tested jobs."""
    y, levels, losses = past.targets[target], list(LEVELS.values()), []
    x = np.hstack([amounts(past.x), pd.get_dummies(past.frame["engineer_id"]).to_numpy(float)])
    for fold in rolling_folds(past.days):
        before, test = known_rows(y, fold.before), known_rows(y, fold.test)
        peer = calibrated_peer(SPECS[target], "linear", x[before], y[before], interleaved(past.days[before]))
        losses.append(pinball(y[test], peer.quantiles(x[test], levels), levels))
    return float(np.concatenate(losses).mean())


def main(jobs: int, seed: int, worlds: tuple[str, ...]) -> None:
    sys.stdout.write(
        f"{jobs} jobs, seed {seed}\nworld            target            jobs  vs best peer  vs told line"
        "  vs LightGBM   80 %   90 %  groups beyond 6 points\n"
    )
    for world in worlds:
        with TemporaryDirectory() as folder:
            past = past_of(world, jobs, seed, Path(folder))
        scores = backtest_history(past, seed=0)
        for target in TARGETS:
            if (found := scores.targets.get(target)) is None:
                continue
            cover, told, other = found.coverage, told_line_loss(past, target), outside_loss(past, target)
            far = {name: c for name, c in found.groups.items() if abs(c.share_80 - 0.8) > 0.06}
            beyond = [f"{name} {c.share_80:.2f} ({c.jobs})" for name, c in far.items()]
            sys.stdout.write(
                f"{world:<16} {target:<16} {found.jobs:>5}  {found.better_share:>11.1%}  "
                f"{1 - found.pinball / told:>11.1%}  {1 - found.pinball / other:>10.1%}  "
                f"{cover.share_80:.3f}  {cover.share_90:.3f}  {', '.join(beyond)}\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    asked = sys.argv[1:]
    main(int(asked[0]) if asked else 1500, int(asked[1]) if len(asked) > 1 else 3, tuple(asked[2:]) or WORLDS)
