"""`too_clean`: far less than this system should give, so perhaps the flow is not going through it."""

from __future__ import annotations

from models.catch.records.job import Catch, JobCatch
from pipeline.contract.findings import Finding

FROM_SHARE, FAR_BELOW = 0.3, 0.6
"""From this share of the flush time that the quote expects; under this share of what 19 in 20 such systems give."""
FROM_SHARE_ONE, FAR_BELOW_ONE = 0.4, 0.35
"""The same with one emitter at a time: crews begin where they like, and what comes next may give more."""
MIN_CATCHES = 3
PACE_MINUTES = 30.0
"""The latest pace is that of so many minutes and three weighings at least."""


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: dry magnetite by the end of the time that the quote expects, were the latest pace to go on to then,
    against a share of the quote's p05. A pace falls off, so that this is more than will come. `now` is the flush
    minute.
    """
    expected, minutes = job.setup.expected_kg, job.setup.expected_minutes
    magnet = job.magnet_catches()
    if expected is None or not minutes or len(magnet) < MIN_CATCHES:
        return None
    is_one = job.setup.isolation == "one_at_a_time"
    from_share, far_below = (FROM_SHARE_ONE, FAR_BELOW_ONE) if is_one else (FROM_SHARE, FAR_BELOW)
    caught = sum(catch.dry_g for catch in magnet) / 1000.0
    by_end = caught + _pace_kg_min(magnet) * max(minutes - magnet[-1].minutes, 0.0)
    if now < from_share * minutes or by_end >= far_below * expected.p05:
        return None
    return Finding(
        "too_clean",
        f"Only {caught:.2f} kg so far, and {by_end:.2f} kg by the end at this pace; a system like this gives at least "
        f"{expected.p05:.1f} kg in 19 of 20 houses (told under {far_below * expected.p05:.2f} kg). "
        "Perhaps the flow does not go through it. Check first the layout (one-pipe, hot-water circuit), zone valves "
        "and where the hoses join: emitters that stay cold tell.",
        {
            "caught_kg": caught,
            "by_end_kg": by_end,
            "expected_p05_kg": expected.p05,
            "expected_p50_kg": expected.p50,
            "threshold_kg": far_below * expected.p05,
        },
    )


def _pace_kg_min(magnet: tuple[Catch, ...]) -> float:
    last = magnet[-1].minutes
    before = [n for n, catch in enumerate(magnet[:-MIN_CATCHES]) if catch.minutes <= last - PACE_MINUTES]
    first, since = (before[-1] + 1, magnet[before[-1]].minutes) if before else (0, 0.0)
    return sum(catch.dry_g for catch in magnet[first:]) / 1000.0 / max(last - since, 1.0)
