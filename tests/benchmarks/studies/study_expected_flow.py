"""The flow to be expected against the flow that simulated crews read, in jobs with nothing planted.

    python -m tests.benchmarks.studies.study_expected_flow [JOBS] [SEED] [WORLD]

A job counts once, by the middle of measured over expected flow of its readings. Printed by the smallest tail of the
house: jobs, quantiles p05, p50 and p95 of that ratio, and the share of jobs within 0.8 to 1.2. One-pipe houses taken
for two-pipe are left out: nobody planted their way past.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from dashboard.services.build_tables import watched_job_frames
from models.catch.records.job_frames import job_catches
from models.catch.warnings.flow_ratio import known_ratios
from tests.benchmarks.bench_warnings import world

BANDS = ((0.0, 11.0, "up to 10 mm"), (11.0, 100.0, "12 mm and more"), (0.0, 100.0, "all"))


@dataclass(frozen=True, slots=True)
class FlowBand:
    """Measured over expected flow of so many jobs with tails of one kind."""

    tails: str
    jobs: int
    p05: float
    p50: float
    p95: float
    within: float


def flow_bands(jobs: int, seed: int, scenario: str = "usual") -> tuple[FlowBand, ...]:
    """The band of each kind of tail; a kind without a job is left out."""
    frames = world(scenario, jobs, seed)
    found = []
    for job in job_catches(watched_job_frames(frames.__getitem__)):
        true = frames["truth"].loc[(job.firm_id, job.job_id)]
        ratios, _ = known_ratios(job)
        is_one_pipe = bool(true["job_is_one_pipe"]) and job.setup.pipe_layout != "one_pipe"
        if ratios.size and true["job_fault"] == "none" and not is_one_pipe and job.setup.tail_bore_mm:
            found.append((job.setup.tail_bore_mm, float(np.exp(np.median(ratios)))))
    bands = []
    for low, high, words in BANDS:
        of = np.array([ratio for bore, ratio in found if low <= bore < high])
        if of.size:
            within = float(np.mean((of >= 0.8) & (of <= 1.2)))
            bands.append(FlowBand(words, of.size, *(float(q) for q in np.quantile(of, [0.05, 0.5, 0.95])), within))
    return tuple(bands)


def main(asked: list[str]) -> None:
    numbers = [int(text) for text in asked if text.isdigit()]
    jobs, seed = (numbers + [400, 301][len(numbers) :])[:2]
    names = [text for text in asked if not text.isdigit()] or ["usual"]
    for name in names:
        for band in flow_bands(jobs, seed, name):
            sys.stdout.write(
                f"{name}, tails {band.tails}: {band.jobs} jobs, measured over expected "
                f"{band.p05:.2f} / {band.p50:.2f} / {band.p95:.2f}, {band.within:.0%} within 0.8 to 1.2\n"
            )


if __name__ == "__main__":
    main(sys.argv[1:])
