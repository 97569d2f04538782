"""`trap_full`: the magnet nears what it can hold: clean it now, or the rest goes round again."""

from __future__ import annotations

from models.catch.job import JobCatch
from pipeline.findings import Finding

FULL_G = 780.0
"""Dry, from which a magnet of usual size holds no more (no source: set on simulated jobs, the heaviest single
catches of 300 normal ones)."""
FROM_G = 60.0


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: the pace of the latest weighing times the minutes since then, or that weighing itself, against what
    a magnet holds. `now` is the flush minute."""
    magnet = job.magnet_catches()
    if not magnet:
        return None
    last = magnet[-1]
    before = magnet[-2].minutes if len(magnet) > 1 else 0.0
    spent = max(last.minutes - before, 1.0)
    held = max(last.dry_g / spent * (now - last.minutes), 0.0) if last.dry_g >= FROM_G else 0.0
    if max(held, last.dry_g if now - last.minutes < spent else 0.0) < FULL_G:
        return None
    return Finding(
        "trap_full",
        f"The magnet is filling: {last.dry_g:.0f} g dry came in {spent:.0f} minutes. Clean it now, weigh more often; "
        "a full magnet lets the rest go round again.",
        {"latest_g": last.dry_g, "latest_minutes": spent, "held_g": held},
    )
