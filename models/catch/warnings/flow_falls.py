"""`flow_falls`: flow that falls away, because a strainer, a valve or a trap is filling."""

from __future__ import annotations

import numpy as np

from models.catch.records.job import JobCatch
from models.catch.records.ragged_arrays import Floats
from models.catch.warnings.flow_ratio import log_ratios
from pipeline.contract.findings import Finding

FALLEN_SHARE = 0.40
"""Both latest readings are this much below the middle of those before, each against the flow its emitter should have.
Tails differ, so that one emitter in twenty has a third less than another of the same house."""
SAME_FALLEN_SHARE = 0.30
"""The same where all are of one setting: only instrument and water's warmth differ."""
MIN_BEFORE = 2


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: the two latest flows over what machine and tails let through, against the middle of those before."""
    flows = job.readings.flow_l_min
    fell = _fall(log_ratios(job), FALLEN_SHARE) or _fall(_same_setting(job), SAME_FALLEN_SHARE)
    if fell is None:
        return None
    latest = float(flows[~np.isnan(flows)][-1])
    before = latest / (1.0 - fell)
    return Finding(
        "flow_falls",
        f"The flow has fallen by {100 * fell:.0f} %, to {latest:.0f} L/min where it was about {before:.0f} "
        f"(told from {100 * SAME_FALLEN_SHARE:.0f} % at one setting, {100 * FALLEN_SHARE:.0f} % across emitters): "
        "something is filling. Check first the machine's strainer and base, the magnet, and the strainer at the heat "
        "source; then valves.",
        {
            "before_l_min": before,
            "latest_l_min": latest,
            "fallen_share": fell,
            "threshold_share": FALLEN_SHARE,
            "threshold_same_share": SAME_FALLEN_SHARE,
        },
    )


def _fall(logs: Floats, share: float) -> float | None:
    """Share fallen, of the better of the two latest; None where that is less than `share` or too few are known."""
    logs = logs[~np.isnan(logs)]
    if logs.size < MIN_BEFORE + 2:
        return None
    fell = -float(np.expm1(logs[-2:].max() - np.median(logs[:-2])))
    return fell if fell >= share else None


def _same_setting(job: JobCatch) -> Floats:
    """Logarithms of the flows with the emitter in hand (or the whole system), in order of time."""
    flows, emitters = job.readings.flow_l_min, job.readings.emitter_no
    known = ~np.isnan(flows)
    flows, emitters = np.maximum(flows[known], 0.25), emitters[known]
    return np.log(flows[emitters == emitters[-1]]) if flows.size else flows
