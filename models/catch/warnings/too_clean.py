"""`too_clean`: far less than this system should give, so perhaps the flow is not going through it."""

from __future__ import annotations

from models.catch.job import JobCatch
from pipeline.findings import Finding

FROM_SHARE = 0.5
"""Of the job, as told by time and by emitters that have had the flow."""
FAR_BELOW = 0.45
"""Of what 19 in 20 such systems give at least, in proportion to the job so far. Crews begin where they like, and some
systems give late: nearer to the quote's lower end, 3 to 10 % of normal jobs of some worlds are below for a while."""
MIN_CATCHES = 3


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: dry magnetite so far against `FAR_BELOW` of the quote's p05, in proportion to how far the job is (at
    most all of it). `now` is the flush minute."""
    expected = job.setup.expected_kg
    if expected is None or len(job.magnet_catches()) < MIN_CATCHES:
        return None
    share = _share_done(job, now)
    caught = sum(catch.dry_g for catch in job.magnet_catches()) / 1000.0
    least = FAR_BELOW * expected.p05 * share
    if share < FROM_SHARE or caught >= least:
        return None
    return Finding(
        "too_clean",
        f"Only {caught:.2f} kg so far; a system like this gives at least {expected.p05:.1f} kg in 19 of 20 houses. "
        "Perhaps the flow does not go through it. Check first the layout (one-pipe, hot-water circuit), zone "
        "valves and where the hoses join: emitters that stay cold tell.",
        {"caught_kg": caught, "expected_p05_kg": expected.p05, "expected_p50_kg": expected.p50, "share_done": share,
         "threshold_kg": least},
    )  # fmt: skip


def _share_done(job: JobCatch, now: float) -> float:
    """Time spent of the time expected; one emitter at a time, its mean with the share of emitters that had the flow."""
    minutes = job.setup.expected_minutes
    by_time = now / minutes if minutes else 0.0
    had = {catch.emitter_no for catch in job.magnet_catches() if catch.emitter_no is not None}
    if job.setup.isolation == "one_at_a_time" and had and job.emitters:
        by_time = 0.5 * (by_time + len(had) / len(job.emitters))
    return min(by_time, 1.0)
