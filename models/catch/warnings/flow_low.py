"""`flow_low`: flow far below what machine, connection and tails let through: something throttles it."""

from __future__ import annotations

import numpy as np

from models.catch.records.job import JobCatch
from models.catch.warnings.flow_ratio import known_ratios, log_ratios
from pipeline.contract.findings import Finding

LOW_SHARE = 0.55
"""Of the flow to be expected. Nineteen in twenty normal simulated jobs lie above 0.8 of it."""
MIN_READINGS = 2


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: middle of measured over expected flow so far; under `LOW_SHARE` from `MIN_READINGS` readings."""
    ratios, _ = known_ratios(job)
    if ratios.size < MIN_READINGS:
        return None
    share = float(np.exp(np.median(ratios)))
    if share >= LOW_SHARE:
        return None
    here = ~np.isnan(log_ratios(job))
    flow = float(np.median(job.readings.flow_l_min[here]))
    return Finding(
        "flow_low",
        f"The flow is only {flow:.0f} L/min; this machine, connection and tails should let through about "
        f"{flow / share:.0f} (told under {100 * LOW_SHARE:.0f} % of it). Check first where the hoses join: a valve not "
        "fully open, a narrow tail, a kinked hose; then the strainers. Best is the heat source, in full bore.",
        {"flow_l_min": flow, "expected_l_min": flow / share, "share": share, "threshold_share": LOW_SHARE},
    )
