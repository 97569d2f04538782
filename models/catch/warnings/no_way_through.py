"""`no_way_through`: one emitter lets next to nothing through where others do: blocked outright, or a stuck pin."""

from __future__ import annotations

import numpy as np

from models.catch.records.job import JobCatch
from models.catch.records.sensor_readings import WHOLE
from models.catch.warnings.flow_ratio import log_ratios
from pipeline.contract.findings import Finding

LOW_SHARE = 0.3
"""Of the flow to be expected through it. Blocked outright is a hundredth, a stuck pin some eighth (assumption)."""
OTHERS_SHARE, MIN_OTHERS = 0.6, 1
"""The middle of the other emitters is above this, so that machine, hoses and joint are sound; so many are known."""


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: newest measured over expected flow of the emitter in hand, under `LOW_SHARE` while the others' middle
    is over `OTHERS_SHARE`. With one emitter at a time only. A debris curve of that emitter is then worth nothing."""
    ratios, emitters = log_ratios(job), job.readings.emitter_no
    known = ~np.isnan(ratios) & (emitters != WHOLE)
    if job.setup.isolation != "one_at_a_time" or not known.any():
        return None
    last = int(emitters[known][-1])
    here, others = ratios[known & (emitters == last)], ratios[known & (emitters != last)]
    share = float(np.exp(here[-1]))
    if share >= LOW_SHARE or others.size < MIN_OTHERS or float(np.exp(np.median(others))) < OTHERS_SHARE:
        return None
    flow = float(job.readings.flow_l_min[known][-1])
    return Finding(
        "no_way_through",
        f"Emitter {last} lets through {flow:.1f} L/min, {100 * share:.0f} % of what its tails should (told under "
        f"{100 * LOW_SHARE:.0f} %), and others flow: it is blocked, or a valve is shut. Check first both valves, and "
        "that the pin of a thermostatic one moves; then the tails. That little comes from it does not say that it is "
        "clean.",
        {"emitter_no": last, "flow_l_min": flow, "share": share, "threshold_share": LOW_SHARE},
    )
