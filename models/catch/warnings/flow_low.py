"""`flow_low`: flow far below what the machine can give, so that the connection or a narrow tail throttles it."""

from __future__ import annotations

import numpy as np

from models.catch.job import JobCatch
from pipeline.findings import Finding

LOW_SHARE = 0.10
"""Of the machine's greatest flow. Normal simulated jobs: about 1 in 100 lies below, at the middle of its readings."""
MIN_READINGS = 3


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: median flow so far over the machine's maximum; under `LOW_SHARE` from `MIN_READINGS` readings."""
    most = job.setup.machine_max_flow_l_min
    flows = job.readings.flow_l_min
    flows = flows[~np.isnan(flows)]
    if not most or flows.size < MIN_READINGS:
        return None
    usual = float(np.median(flows))
    if usual >= LOW_SHARE * most:
        return None
    return Finding(
        "flow_low",
        f"The flow is only {usual:.0f} of {most:.0f} L/min: something throttles it all along. Check first where "
        "the hoses join: a valve, a microbore tail, a kinked hose; best is the heat source, in full bore.",
        {"flow_l_min": usual, "machine_max_flow_l_min": most, "share": usual / most},
    )
