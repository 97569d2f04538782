"""`trap_full`: the magnet is left to fill: clean it now, or the rest goes round again."""

from __future__ import annotations

from models.catch.records.job import Catch, JobCatch
from pipeline.contract.findings import Finding

LONG_GRAM_HOURS = 350.0
"""Grams in the trap times hours since it was opened, once. The share that a magnet lets by grows with its load, so what
went round again by now grows with both. A lunch hour at a usual pace stays below."""
TWICE_GRAM_HOURS = 100.0
"""The same in two spells running, the latest closed one as weighed: 200 g in half an hour, twice."""
FULL_G = 780.0
"""Dry, from which a magnet of usual size holds no more (no source: set on simulated jobs, the heaviest single
catches of 300 normal ones)."""
LEAST_MINUTES = 20.0
OWN_WEIGHT = 0.5
"""Of the job's latest pace against the quote's: a magnet that was full slows the pace that it shows."""


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: grams that the magnet should hold by now, by the pace of job and quote, times hours since it was
    opened, against `LONG_GRAM_HOURS`, or `TWICE_GRAM_HOURS` with the spell before; or the latest weighing by itself
    against `FULL_G`. `now` is the flush minute."""
    magnet = job.magnet_catches()
    shut = now - (magnet[-1].minutes if magnet else 0.0)
    held = _pace_g_min(job, magnet) * shut
    load, before = held * shut / 60.0, magnet[-1].dry_g * _spent(magnet) / 60.0 if magnet else 0.0
    is_filling = load >= LONG_GRAM_HOURS or min(load, before) >= TWICE_GRAM_HOURS
    if shut >= LEAST_MINUTES and is_filling:
        return _filling(held, shut, load, before)
    if not magnet or magnet[-1].dry_g < FULL_G or shut >= _spent(magnet):
        return None
    return Finding(
        "trap_full",
        f"The magnet was full: {magnet[-1].dry_g:.0f} g dry came in {_spent(magnet):.0f} minutes. Weigh more often. "
        "Check first that flow and water clear up now that it is clean.",
        {"latest_g": magnet[-1].dry_g, "latest_minutes": _spent(magnet), "threshold_g": FULL_G},
    )


def _filling(held: float, shut: float, load: float, before: float) -> Finding:
    threshold = LONG_GRAM_HOURS if load >= LONG_GRAM_HOURS else TWICE_GRAM_HOURS
    return Finding(
        "trap_full",
        f"The magnet has been shut for {shut:.0f} minutes and should hold about {held:.0f} g dry by now "
        f"({load:.0f} g h, told from {threshold:.0f}): as it fills, it lets more go round again. Clean it now, and "
        "weigh more often; check first that no weighing is missing here.",
        {
            "held_g": held,
            "shut_minutes": shut,
            "gram_hours": load,
            "gram_hours_before": before,
            "threshold_gram_hours": threshold,
        },
    )


def _spent(magnet: tuple[Catch, ...]) -> float:
    """Minutes over which the latest weighing came."""
    return max(magnet[-1].minutes - (magnet[-2].minutes if len(magnet) > 1 else 0.0), 1.0)


def _pace_g_min(job: JobCatch, magnet: tuple[Catch, ...]) -> float:
    """Grams a minute to be expected in the magnet; 0 where neither weighings nor a quote tell."""
    expected, minutes = job.setup.expected_kg, job.setup.expected_minutes
    quoted = None if expected is None or not minutes else 1000.0 * expected.p50 / minutes
    own = magnet[-1].dry_g / _spent(magnet) if magnet else None
    if own is not None and quoted is not None:
        return OWN_WEIGHT * own + (1.0 - OWN_WEIGHT) * quoted
    return own if own is not None else quoted or 0.0
