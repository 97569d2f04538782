"""`too_clean`: far less than this system should give, so perhaps the flow is not going through it."""

from __future__ import annotations

from models.catch.job import JobCatch
from pipeline.findings import Finding

FROM_SHARE = 0.3
"""Of the flush time that the quote expects."""
FAR_BELOW = 0.7
"""Of what 19 in 20 such systems give at least, in proportion to the time so far."""
MIN_CATCHES = 3


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: dry magnetite so far against `FAR_BELOW` of the quote's p05, in proportion to the time spent of the
    time expected (at most all of it). `now` is the flush minute."""
    expected, minutes = job.setup.expected_kg, job.setup.expected_minutes
    magnet = job.magnet_catches()
    if expected is None or not minutes or len(magnet) < MIN_CATCHES or now < FROM_SHARE * minutes:
        return None
    caught = sum(catch.dry_g for catch in magnet) / 1000.0
    least = FAR_BELOW * expected.p05 * min(now / minutes, 1.0)
    if caught >= least:
        return None
    return Finding(
        "too_clean",
        f"Only {caught:.2f} kg so far; a system like this gives at least {expected.p05:.1f} kg in 19 of 20 houses. "
        "Perhaps the flow does not go through it. Check first the layout (one-pipe, hot-water circuit), zone "
        "valves and where the hoses join: emitters that stay cold tell.",
        {"caught_kg": caught, "expected_p05_kg": expected.p05, "expected_p50_kg": expected.p50},
    )
