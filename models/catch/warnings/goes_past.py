"""`goes_past`: more flow than one emitter lets through, with one open at a time: most of it takes another way."""

from __future__ import annotations

import numpy as np

from models.catch.records.job import JobCatch
from models.catch.records.sensor_readings import WHOLE
from models.catch.warnings.flow_ratio import log_ratios
from pipeline.contract.findings import Finding

HIGH_SHARE, VERY_HIGH_SHARE = 1.35, 1.6
"""Of the flow that one emitter with its tails should let through. Three in four readings are above the first, or all
of two or more above the second; 2 in 100 normal simulated houses have tails that let a third more through."""
LOW_QUARTER = 0.25
MIN_READINGS, MIN_EMITTERS, MIN_VERY_HIGH = 4, 3, 2


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: lower quarter of measured over expected flow with one emitter open, over `HIGH_SHARE` from
    `MIN_READINGS` readings at `MIN_EMITTERS` emitters; least of it over `VERY_HIGH_SHARE` from `MIN_VERY_HIGH`.
    Silent where the log says one-pipe: then it is known.
    """
    if job.setup.isolation != "one_at_a_time" or job.setup.pipe_layout == "one_pipe":
        return None
    ratios, emitters = log_ratios(job), job.readings.emitter_no
    known = ~np.isnan(ratios) & (emitters != WHOLE)
    if known.sum() < MIN_VERY_HIGH:
        return None
    least, share = (float(np.exp(np.quantile(ratios[known], at))) for at in (0.0, LOW_QUARTER))
    is_enough = known.sum() >= MIN_READINGS and len(set(emitters[known].tolist())) >= MIN_EMITTERS
    if not (least >= VERY_HIGH_SHARE or (is_enough and share >= HIGH_SHARE)):
        return None
    flow, usual = float(np.median(job.readings.flow_l_min[known])), float(np.exp(np.median(ratios[known])))
    return Finding(
        "goes_past",
        f"The flow is {flow:.0f} L/min with one emitter open, where its tails let through about {flow / usual:.0f}: "
        f"most of it goes past the emitter (told from {HIGH_SHARE:g} times on). Check first whether the layout is "
        "one-pipe, whether a by-pass, the hot-water circuit or another emitter is open, and whether this emitter warms "
        "up along its bottom.",
        {"flow_l_min": flow, "expected_l_min": flow / usual, "share": share, "threshold_share": HIGH_SHARE},
    )
