"""The audit's doubly robust difference beside that of the library DoubleML, on the same simulated jobs.

    python tests/benchmarks/bench_doubleml.py [draws] [jobs]

Both take the same confounders, outcomes and limits of the chance; DoubleML with plain logistic regressions of the
library scikit-learn and an indicator for every engineer, the audit with its own shrunk fits.
"""

from __future__ import annotations

import sys
import time
import warnings
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent / "studies"))
from models.practice.cohort.audited_jobs import gather
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects.doubly_robust import adjust, compare
from models.practice.nuisance.nuisance_fits import known_design
from tests.benchmarks.studies.practice_world import EFFECTS, draw_world


def by_doubleml(x: np.ndarray, a: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """Average effect and its standard error."""
    from doubleml import DoubleMLData, DoubleMLIRM
    from doubleml.utils import PSProcessorConfig
    from sklearn.linear_model import LogisticRegression, RidgeCV

    data = DoubleMLData.from_arrays(x, y, a.astype(float))
    model = DoubleMLIRM(
        data,
        ml_g=RidgeCV(np.logspace(0, 4, 9)),
        ml_m=LogisticRegression(C=1.0, max_iter=500),
        n_folds=5,
        ps_processor_config=PSProcessorConfig(clipping_threshold=0.05),
    )
    model.fit()
    return float(model.coef[0]), float(model.se[0])


def main(draws: int = 10, jobs: int = 3000) -> None:
    """Print a row a practice: mean of either, mean distance, standard errors, correlation over draws."""
    warnings.simplefilter("ignore")
    sys.stdout.write("| practice | truth | audit | DoubleML | sd of distance | se audit | se DoubleML |\n" + "|---" * 7)
    sys.stdout.write("|\n")
    started = time.perf_counter()
    for name in EFFECTS:
        rows = []
        for seed in range(draws):
            world = draw_world(seed, jobs)
            records = gather(world.frames)
            found = adjust(records, compare(records, BY_NAME[name]))
            if found.estimate is None or found.kept is None or found.outcome is None:
                continue
            chosen = found.compared.rows[found.kept]
            design = known_design(records.known.beside(BY_NAME[name].column), chosen, records.engineer)
            marks = np.eye(design.groups)[design.group][:, 1:]
            theirs = by_doubleml(
                np.column_stack([design.x, marks]), found.compared.a[found.kept], found.outcome[found.kept]
            )
            true = world.risks[name][chosen]
            rows.append(
                [
                    (true[:, 0] - true[:, 1]).mean(),
                    found.estimate.difference,
                    theirs[0],
                    found.estimate.standard_error(),
                    theirs[1],
                ]
            )
        t, own, other, e1, e2 = 100 * np.array(rows).T
        name = name.replace("|", "\\|")
        sys.stdout.write(
            f"| {name} | {t.mean():+.2f} | {own.mean():+.2f} | {other.mean():+.2f} | "
            f"{(own - other).std():.2f} | {e1.mean():.2f} | {e2.mean():.2f} |\n"
        )
        sys.stdout.flush()
    sys.stderr.write(f"{time.perf_counter() - started:.0f} s\n")


if __name__ == "__main__":
    main(*(int(arg) for arg in sys.argv[1:]))
