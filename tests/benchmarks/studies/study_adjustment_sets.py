"""Two planted worlds in which what is adjusted for must follow the order of the day: does the audit hold the truth?

    python -m tests.benchmarks.studies.study_adjustment_sets [draws] [jobs]

`filter_after_seeing`: how dirty a house is stands in no survey; it is seen in the catch, moves callbacks, and the
filter is chosen by it. `reversed_after_predose`: a pre-dose acts by making a reversal needless, which moves callbacks.
Prints the truth, the mean estimate and how many 95 % intervals hold the truth (40 draws of 2,000 jobs unless told).
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import PracticeFrames, gather
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects.effect import practice_effect
from tests.benchmarks.studies.practice_world import draw_world

Floats = NDArray[np.float64]
FILTER, PREDOSE = "filter_fitted:on_return|none", "predose_days:7|0"


def _called(frames: PracticeFrames, risk: Floats, rng: np.random.Generator) -> PracticeFrames:
    """The same jobs followed for the year, called back by chance."""
    days = np.where(rng.random(len(risk)) < risk, rng.integers(1, 366, len(risk)), np.nan)
    callback = frames.callback.assign(
        followed_days=365.0, first_debris_day=days, first_other_day=np.nan, first_unknown_day=np.nan
    )
    return replace(frames, callback=callback)


def filter_after_seeing(seed: int, jobs: int) -> tuple[PracticeFrames, float]:
    """Tables, and the true effect of the filter among all jobs."""
    rng = np.random.default_rng([seed, 16])
    frames = draw_world(seed, jobs).frames
    dirt = rng.standard_normal(jobs)
    kg = np.exp(0.5 + 0.5 * dirt + 0.1 * rng.standard_normal(jobs))
    fitted = rng.random(jobs) < 1 / (1 + np.exp(-1.3 * (np.log(kg) - 0.5) / 0.5))
    frames = replace(
        frames,
        jobs=frames.jobs.assign(filter_fitted=np.where(fitted, "on_return", "none")),
        outcome=frames.outcome.assign(magnetite_kg=kg),
    )
    return _called(frames, np.clip(0.2 + 0.04 * dirt - 0.041 * fitted, 0.0, 1.0), rng), -0.041


def reversed_after_predose(seed: int, jobs: int) -> tuple[PracticeFrames, float]:
    """Tables, and the true effect of the pre-dose: all of it by a reversal that it makes needless."""
    rng = np.random.default_rng([seed, 17])
    frames = draw_world(seed, jobs).frames
    dosed = frames.quote["predose_days"].to_numpy() == 7
    turned = rng.random(jobs) < np.where(dosed, 0.2, 0.7)
    frames = replace(frames, jobs=frames.jobs.assign(flow_reversed=turned))
    return _called(frames, 0.1 + 0.15 * turned, rng), (0.2 - 0.7) * 0.15


def main(draws: int = 40, jobs: int = 2000) -> None:
    """Print one line a world."""
    for made, contrast in ((filter_after_seeing, FILTER), (reversed_after_predose, PREDOSE)):
        told = []
        for seed in range(draws):
            frames, truth = made(seed, jobs)
            effect, _ = practice_effect(gather(frames), BY_NAME[contrast])
            assert effect.difference is not None
            assert effect.low is not None
            assert effect.high is not None
            told.append((100 * effect.difference, effect.low < truth < effect.high))
        off, held = np.array(told).T
        sys.stdout.write(
            f"{made.__name__}: true {100 * truth:.1f}, told {off.mean():.2f} ± {off.std() / np.sqrt(draws):.2f}; "
            f"{100 * held.mean():.0f} % of intervals hold the truth\n"
        )


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:]))
