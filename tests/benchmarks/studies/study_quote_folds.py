"""Do the quote's ranges hold on later jobs where a book has some hundred jobs: several books, thousands of later jobs.

    python -m tests.benchmarks.studies.study_quote_folds [LEARNT] [LATER] [WORLD] [SEED...]

A book of LEARNT jobs a seed (400 unless told), the next LATER ones (250) told by it; shares within the 80 and 90 %
ranges over all seeds, with the standard deviation of a seed's share over the root of the seeds, and mean pinball loss.
"""

from __future__ import annotations

import sys
import warnings

import numpy as np

from models.quantiles import LEVELS
from models.quote.base.quote_result import TARGETS
from models.quote.base.targets import SPECS
from models.quote.estimator.fit_target import learn_target
from models.scores import pinball
from tests.benchmarks.studies.study_sizes import past_of

SEEDS = (201, 202, 203, 204, 205, 206, 207, 208)
_LEVELS = list(LEVELS.values())


def main(learnt: int, later: int, world: str, seeds: tuple[int, ...]) -> None:
    """Print a line a target."""
    found: dict[str, list[tuple[int, float, float, float]]] = {target: [] for target in TARGETS}
    for seed in seeds:
        past = past_of(world, learnt + later, seed)
        for target in TARGETS:
            y = past.targets[target]
            known = np.flatnonzero(np.isfinite(y))
            before, test = known[known < learnt], known[known >= learnt]
            model = learn_target(SPECS[target], past.x[before], y[before], past.days[before]).model
            told = model.quantiles(past.x[test], _LEVELS)
            inside = [np.mean((y[test] >= told[:, at]) & (y[test] <= told[:, -1 - at])) for at in (1, 0)]
            loss = float(pinball(y[test], told, _LEVELS).mean())
            found[target].append((len(test), float(inside[0]), float(inside[1]), loss))
    for target, rows in found.items():
        jobs, cover_80, cover_90, loss = (np.array(each) for each in zip(*rows, strict=True))
        apart = cover_80.std(ddof=1) / np.sqrt(len(rows)) if len(rows) > 1 else np.nan
        means = [np.average(each, weights=jobs) for each in (cover_80, cover_90, loss)]
        sys.stdout.write(
            f"{target:16s} later jobs {jobs.sum():5d}  80 %: {means[0]:.3f} ± {apart:.3f}  90 %: {means[1]:.3f}"
            f"  loss {means[2]:.4g}\n"
        )


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    asked = sys.argv[1:]
    main(
        int(asked[0]) if asked else 400,
        int(asked[1]) if len(asked) > 1 else 250,
        asked[2] if len(asked) > 2 else "usual",
        tuple(int(each) for each in asked[3:]) or SEEDS,
    )
