"""Risk per kilogram in planted worlds: how large is what a price counts, where the truth is known.

    python -m tests.benchmarks.studies.study_risk_per_kg [draws] [jobs]

A kilogram more by the way of flushing takes 5 callbacks in 100 jobs away (a world of the tests, dirt of which nobody
knows in every house); `chosen by dirt`: the dirtier houses got the more thorough ways, so that the assumption fails.
Prints in how many draws a figure is told, its mean where told, and the root mean square error of what a price counts,
which is nothing where none is told (60 draws of 1,500 jobs unless told).
"""

from __future__ import annotations

import sys

import numpy as np

from models.practice.cohort.audited_jobs import gather
from models.practice.effects.risk_per_kg import risk_per_kg
from tests.models.practice.test_callback_inputs_planted import A_KILOGRAM, planted


def main(draws: int = 60, jobs: int = 1500) -> None:
    """Print one line a world."""
    for name, chosen_by_dirt in (("as assumed", 0.0), ("chosen by dirt", 0.15)):
        found = [risk_per_kg(gather(planted(seed, jobs, chosen_by_dirt)[0])) for seed in range(draws)]
        told = 100 * np.array([each.per_kg for each in found if each.per_kg is not None])
        counted = 100 * np.array([each.per_kg or 0.0 for each in found])
        truth = 100 * A_KILOGRAM
        held = [each.low <= A_KILOGRAM <= each.high for each in found if each.low is not None and each.high is not None]
        error = float(np.sqrt(np.mean((counted - truth) ** 2)))
        sys.stdout.write(
            f"{name}: told in {len(told)} of {draws}, {told.mean():.1f} on average (true {truth:.1f}), intervals hold "
            f"the truth in {100 * np.mean(held):.0f} %; a price counts {counted.mean():.1f}, off by {error:.1f}\n"
        )


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:]))
