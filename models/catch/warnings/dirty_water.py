"""`dirty_water`: water that carries much while the magnet catches little: debris that no magnet holds."""

from __future__ import annotations

import numpy as np

from models.catch.records.job import JobCatch
from pipeline.contract.findings import Finding

CARRIED_FOR_CATCH = 9000.0
"""NTU · L/min carried past, over the root of g/min caught: the line between normal simulated jobs and loads of sand."""
READINGS, MIN_READINGS = 4, 2
FROM_MINUTES = 25.0
LEAST_WINDOW_MINUTES = 20.0
LEAST_G = 3.0
"""A scale on site shows no less (common practice, no source)."""
USUAL_L_MIN = 15.0


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: middle of turbidity times flow over the latest `READINGS`, over the root of the magnet's pace
    since the first of them, against `CARRIED_FOR_CATCH`."""
    readings, magnet = job.readings, job.magnet_catches()
    turbid = np.flatnonzero(~np.isnan(readings.turbidity_ntu))[-READINGS:]
    if turbid.size < MIN_READINGS or len(magnet) < 2 or now < FROM_MINUTES:
        return None
    pace = _pace_g_min(job, min(float(readings.minutes[turbid[0]]), now - LEAST_WINDOW_MINUTES))
    flow = _flow_l_min(readings.flow_l_min)[turbid]
    carried = float(np.median(readings.turbidity_ntu[turbid] * flow))
    if carried / np.sqrt(pace) < CARRIED_FOR_CATCH:
        return None
    ntu, ratio = float(np.median(readings.turbidity_ntu[turbid])), float(carried / np.sqrt(pace))
    return Finding(
        "dirty_water",
        f"The water stays dirty ({ntu:.0f} NTU) while the magnet brings only {pace:.1f} g a minute "
        f"({ratio / CARRIED_FOR_CATCH:.1f} times the line at which this is told): debris that is not magnetic, or a "
        "magnet that lets it by. Check first the non-magnetic trap and the base of the machine, and empty them; then "
        "that the magnet was cleaned right down.",
        {"turbidity_ntu": ntu, "magnet_g_min": pace, "carried_for_catch": ratio, "threshold": CARRIED_FOR_CATCH},
    )


def _pace_g_min(job: JobCatch, since: float) -> float:
    """What the magnet brought a minute in the weighings after that flush minute."""
    magnet = job.magnet_catches()
    opened = max((catch.minutes for catch in magnet if catch.minutes <= since), default=0.0)
    grams = sum(catch.dry_g for catch in magnet if catch.minutes > since)
    return max(grams, LEAST_G) / max(magnet[-1].minutes - opened, 5.0)


def _flow_l_min(flow: np.ndarray) -> np.ndarray:
    """Flows with those not read at the middle of the others."""
    known = flow[~np.isnan(flow)]
    return np.where(np.isnan(flow), float(np.median(known)) if known.size else USUAL_L_MIN, flow)
