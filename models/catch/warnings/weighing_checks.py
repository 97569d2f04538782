"""Weighings that look wrong: said so that they can be put right while the job is still on.

The forecast bears them, but a wider range or a forecast a little off is the price. A long time between two weighings is
no sign of a missing one: crews weigh less often as less comes, and 4 in 10 normal simulated jobs would be told of it.
"""

from __future__ import annotations

import numpy as np

from models.catch.records.job import Catch, JobCatch
from pipeline.contract.findings import Finding

TOO_LIGHT_G = 1.0
"""Dry; a scale on site reads to about 5 g wet (common practice, no source): more likely kilograms typed for grams."""
MIN_CATCHES = 4
DUE_SHARE = 0.7
"""Of the job's usual time between weighings: after so long the next is due."""
LIKE_MAGNET = 0.6
"""Of the latest catch of the magnet: as heavy as the next one would be."""


def doubts(job: JobCatch) -> tuple[Finding, ...]:
    """All that holds for a job as known at one moment."""
    magnet = job.magnet_catches()
    found = (too_light(magnet), other_trap(job, magnet))
    return tuple(each for each in found if each is not None)


def too_light(magnet: tuple[Catch, ...]) -> Finding | None:
    """`weighing_too_light`: something between nothing and the least that a scale shows."""
    light = [catch for catch in magnet if 0.0 < catch.dry_g < TOO_LIGHT_G]
    if not light:
        return None
    return Finding(
        "weighing_too_light",
        f"The weighing at minute {light[-1].minutes:.0f} is {light[-1].dry_g:.2f} g, less than a scale shows: perhaps "
        "kilograms were typed for grams. Put it right; until then what is left may be told too low.",
        {"minutes": light[-1].minutes, "dry_g": light[-1].dry_g},
    )


def other_trap(job: JobCatch, magnet: tuple[Catch, ...]) -> Finding | None:
    """`trap_in_doubt`: another trap gave what the magnet was due to give, and the magnet was not weighed."""
    others = [catch for catch in job.catches if catch.trap != "magnet"]
    if not others or len(magnet) < MIN_CATCHES:
        return None
    last = others[-1]
    before = [catch for catch in magnet if catch.minutes <= last.minutes]
    spent = np.diff([catch.minutes for catch in before])
    if len(before) < MIN_CATCHES or len(magnet) > len(before) + 1:
        return None
    usual = float(np.median(spent))
    is_due = last.minutes - before[-1].minutes >= DUE_SHARE * usual
    is_skipped = len(magnet) == len(before) or magnet[len(before)].minutes - last.minutes >= DUE_SHARE * usual
    if not (is_due and is_skipped and last.dry_g >= LIKE_MAGNET * before[-1].dry_g >= 10.0):
        return None
    return Finding(
        "trap_in_doubt",
        f"{last.dry_g:.0f} g are down for the {last.trap.replace('_', ' ')} at minute {last.minutes:.0f}, where a "
        "weighing of the magnet was due: perhaps the trap is mixed up. Put right, it counts as magnetite.",
        {"minutes": last.minutes, "dry_g": last.dry_g},
    )
