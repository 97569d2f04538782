"""`flow_falls`: flow that falls away at the same setting, because a strainer, a valve or a trap is filling."""

from __future__ import annotations

import numpy as np

from models.catch.job import JobCatch
from pipeline.findings import Finding

FALLEN_SHARE = 0.30
"""Both latest readings are this much below the middle of those before, at the same setting."""
MIN_BEFORE = 2


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: the two latest flows with the emitter in hand (or the whole system), against those before."""
    flows, emitters = job.readings.flow_l_min, job.readings.emitter_no
    known = ~np.isnan(flows)
    flows, emitters = flows[known], emitters[known]
    if not flows.size:
        return None
    same = flows[emitters == emitters[-1]]
    if same.size < MIN_BEFORE + 2:
        return None
    before, latest = float(np.median(same[:-2])), same[-2:]
    if not (latest < (1 - FALLEN_SHARE) * before).all():
        return None
    return Finding(
        "flow_falls",
        f"The flow has fallen from {before:.0f} to {latest[-1]:.0f} L/min at the same setting: something is filling. "
        "Check first the magnet, the machine's strainer and the strainer at the heat source; then valves.",
        {"before_l_min": before, "latest_l_min": float(latest[-1])},
    )
