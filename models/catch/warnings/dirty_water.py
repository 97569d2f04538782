"""`dirty_water`: water that stays dirty while the magnet catches little: debris that no magnet holds."""

from __future__ import annotations

import numpy as np

from models.catch.job import JobCatch
from pipeline.findings import Finding

DIRTY_NTU = 1000.0
LITTLE_G = 25.0
"""Dry, of one weighing of the magnet."""
FROM_MINUTES = 45.0


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: both latest turbidities above `DIRTY_NTU` while both latest weighings are under `LITTLE_G`."""
    turbidity = job.readings.turbidity_ntu
    turbid = turbidity[~np.isnan(turbidity)]
    magnet = job.magnet_catches()
    if turbid.size < 2 or len(magnet) < 2 or magnet[-1].minutes < FROM_MINUTES:
        return None
    latest_g = max(catch.dry_g for catch in magnet[-2:])
    if not ((turbid[-2:] > DIRTY_NTU).all() and latest_g < LITTLE_G):
        return None
    return Finding(
        "dirty_water",
        f"The water stays dirty ({turbid[-1]:.0f} NTU) while the magnet brings only {latest_g:.0f} g: debris that "
        "is not magnetic. Check first the non-magnetic trap and the base of the machine, and empty them.",
        {"turbidity_ntu": float(turbid[-1]), "latest_g": float(latest_g)},
    )
