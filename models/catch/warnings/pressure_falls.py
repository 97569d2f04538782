"""`pressure_falls`: pressure that falls faster than cooling alone explains: water is leaving somewhere."""

from __future__ import annotations

import numpy as np

from models.catch.records.job import JobCatch
from models.physics.pressure import cooling_drop_bar
from pipeline.contract.findings import Finding

UNEXPLAINED_BAR = 0.34
"""Gauges on site read to 0.1 bar, so that two readings differ by as much with nothing wrong."""
MIN_READINGS = 3
GAS_SHARE = 0.045
"""Gas over the water in a sealed system, at the small end, so that cooling is made to explain more than it mostly does
(a vessel of a tenth of the water, half full of gas: common practice, no source)."""
TYPICAL_L = 100.0


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: fall from the highest reading of the day, less what cooling since then explains. The latest two agree.

    Overnight a system is left, cooled and opened: a new day starts afresh. Under an open head tank cooling explains
    nothing. A machine whose own tank is open leaves no pressure to fall: there the level of that tank tells.
    """
    if job.setup.has_open_tank:
        return None
    pressure, water = job.readings.pressure_bar, job.readings.water_c
    known = ~np.isnan(pressure) & ~np.isnan(water)  # without its warmth a reading cannot be told from cooling
    known &= job.readings.minutes >= _day_began(job)
    pressure, water = pressure[known], water[known]
    if pressure.size < MIN_READINGS:
        return None
    top = int(np.argmax(pressure[:-2])) if pressure.size > MIN_READINGS else 0
    falls = [_unexplained(job, pressure, water, top, at) for at in (-2, -1)]
    if min(falls) < UNEXPLAINED_BAR:
        return None
    return Finding(
        "pressure_falls",
        f"The pressure has fallen from {pressure[top]:.1f} to {pressure[-1]:.1f} bar, {falls[-1]:.1f} bar more than "
        f"cooling explains (told from {UNEXPLAINED_BAR:g} bar on). Check first for weeps at glands, hose joints and "
        "valves; hot water scalds.",
        {
            "from_bar": float(pressure[top]),
            "to_bar": float(pressure[-1]),
            "unexplained_bar": falls[-1],
            "threshold_bar": UNEXPLAINED_BAR,
        },
    )


def _day_began(job: JobCatch) -> float:
    """Flush minute at which the day of the latest reading began."""
    latest = float(job.readings.minutes[-1]) if job.readings.minutes.size else 0.0
    return max((day.minutes_before for day in job.days if day.minutes_before <= latest), default=0.0)


def _unexplained(job: JobCatch, pressure: np.ndarray, water: np.ndarray, top: int, at: int) -> float:
    fall = float(pressure[top] - pressure[at])
    if job.setup.system_type == "open_vented":
        return fall
    volume = job.setup.volume_l or TYPICAL_L
    explained = float(cooling_drop_bar(pressure[top], water[top], water[at], volume, GAS_SHARE * volume))
    return fall - max(explained, 0.0)
