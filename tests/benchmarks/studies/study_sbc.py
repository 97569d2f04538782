"""Simulation-based calibration, at length: ranks of the truth in worlds drawn from the models themselves.

    python -m tests.benchmarks.studies.study_sbc [--worlds 3000] [--seed 5]

The hierarchy of house and emitters, by how many emitters are done, and what crews of a planted firm go on to catch, at
10, 25, 50 and 75 % of later jobs. Chi-square of ten bins against flat; p is the chance of as much from flat ranks. Of
many lines one in a hundred falls under 0.01.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np

from models.catch.posterior.job_arrays import job_arrays
from models.catch.records.job import JobCatch
from models.catch.records.ragged_arrays import Floats
from models.catch.stopping.landmark_features import glance
from models.catch.stopping.stopping_regression import features, moment
from models.catch.stopping.train_stopping import Learnt, learn
from tests.models.catch import own_world, planted

DONE = ((1, 2), (2, 4), (4, 7), (7, 10))
SHARES = (0.1, 0.25, 0.5, 0.75)
LEVELS = np.linspace(0.005, 0.995, 199)


def main() -> None:
    """Print every histogram with its chi-square."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--worlds", type=int, default=3000)
    asked.add_argument("--seed", type=int, default=5)
    args = asked.parse_args()
    for done in DONE:
        for name, found in own_world.ranks(args.worlds, args.seed, done=done).items():
            say(f"{done[0]} to {done[1] - 1} of 10 emitters done, {name}", found)
    jobs = planted.firm(400 + args.worlds, seed=args.seed)
    learnt = learn(jobs[:400])
    for share in SHARES:
        say(f"crews of a planted firm at {share:.0%}", crew_ranks(learnt, jobs[400:], share))


def crew_ranks(learnt: Learnt, later: list[JobCatch], share: float) -> Floats:
    """Ranks (jobs,) of what was then caught among the levels of the forecast."""
    found = []
    for job in later:
        one = job_arrays(job, learnt.pace)
        seen = None if one is None else glance(one, share * one.end)
        if one is None or seen is None or learnt.emitters is None:
            continue
        at = moment(seen, learnt.emitters, learnt.emitters.expected(one))
        row, start = features(one, at, learnt.prospect.of(one), learnt.crews[at.kind].weights)
        told, _ = learnt.crews[at.kind].quantiles(row, start, LEVELS)
        found.append(float(np.interp(one.kg[seen.known :].sum(), told, LEVELS)))
    return np.array(found)


def say(name: str, found: Floats) -> None:
    """One histogram as a line."""
    counts, _ = np.histogram(found, bins=10, range=(0.0, 1.0))
    square, chance = own_world.unevenness(found)
    inside = float(((found > 0.1) & (found < 0.9)).mean())
    sys.stdout.write(f"{name:46s} {counts}  chi-square {square:5.1f}  p {chance:.3f}  80 %: {inside:.3f}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
