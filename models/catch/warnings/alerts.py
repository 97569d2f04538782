"""Warnings while flushing: each a small rule, one sentence, its figures, and what to look at first."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from models.catch.curve_fit import curve
from models.catch.exhaustion.exhaustion_forecast import LEVEL_SHARE, Outlook
from models.catch.records.job import JobCatch, emitter_curve, house_curve
from models.catch.records.ragged_arrays import Floats
from models.catch.records.watch_result import SaturatingFit
from models.catch.warnings import (
    flow_falls,
    flow_low,
    goes_past,
    no_way_through,
    other_debris,
    pressure_falls,
    too_clean,
    trap_full,
)
from models.catch.warnings.weighing_checks import doubts
from models.catch.wording import LITTLE_KG
from pipeline.contract.findings import Finding

RISE = 1.5  # both latest rates this many times the mean rate before them
MIN_RISE_CATCHES = 4
MIN_LEVEL_CATCHES = 3
LEVEL_KG = 0.02  # less than this to come is level, whatever the curve says: two readings of a site scale


Rule = Callable[[JobCatch, float], Finding | None]
RULES: dict[str, Rule] = {
    "too_clean": too_clean.warn,
    "other_debris": other_debris.warn,
    "flow_falls": flow_falls.warn,
    "flow_low": flow_low.warn,
    "no_way_through": no_way_through.warn,
    "goes_past": goes_past.warn,
    "pressure_falls": pressure_falls.warn,
    "trap_full": trap_full.warn,
}
"""Warnings of faults by their code; each takes the job as known and the flush minute [min]."""


def alerts(job: JobCatch, seen: Outlook | None, fit: SaturatingFit | None, now: float) -> tuple[Finding, ...]:
    """All warnings that hold for a job as known at flush minute `now`; `fit` is that of the curve in hand. Faults
    come first: with one, what a curve says of the rest may be wrong. Advice on where the flow should go, and on faults
    to look for, is left out once the flush has ended."""
    found = [under_half(seen, fit)]
    if not job.is_finished:
        faults = [_of_rule(job, rule, now) for rule in RULES.values()]
        found = [*faults, *found, levelled_off(job, seen), catch_rises(job, seen), *doubts(job)]
    return tuple(finding for finding in found if finding is not None)


def _of_rule(job: JobCatch, rule: Rule, now: float) -> Finding | None:
    """What a rule finds, with the flush minute `since_minutes` from which it has held."""
    found = rule(job, now)
    if found is None:
        return None
    moments = sorted({*(catch.minutes for catch in job.catches), *job.readings.minutes.tolist()}, reverse=True)
    earlier = [moment for moment in moments if moment < now]

    def holds(number: int) -> bool:
        return rule(job.known_at(job.last_at, earlier[number]), earlier[number]) is not None

    steps = _held_for(holds, len(earlier))
    since = earlier[steps - 1] if steps else now
    return Finding(found.code, found.sentence, {**found.facts, "since_minutes": since})


def _held_for(holds: Callable[[int], bool], count: int) -> int:
    """Over how many moments back a rule has held: steps that double, then halves between the last two. A hundred
    moments take some twelve questions; a break between two that hold may be passed over."""
    held, step = 0, 1
    while held < count and holds(min(held + step, count) - 1):
        held, step = min(held + step, count), 2 * step
    low, high = held, min(held + step, count + 1)  # holds at `low` moments back, not at `high`
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle - 1) else (low, middle)
    return low


def curve_in_hand(job: JobCatch, seen: Outlook | None) -> tuple[Floats, Floats, str]:
    """Minutes, cumulative kg and name of what the engineer works on: the emitter in focus, or the house."""
    if seen is not None and seen.is_by_emitter and seen.in_focus is not None:
        return (*emitter_curve(job, seen.in_focus), f"Emitter {seen.in_focus}")
    return (*house_curve(job), "The house")


def is_level(share: Floats | None, to_come: Floats, catches: int) -> bool:
    """Little is left in kilograms, and more likely than not 95 % of it has come or next to nothing is left; never from
    fewer than three weighings."""
    if share is None or catches < MIN_LEVEL_CATCHES or not is_little(to_come):
        return False
    return bool(np.median(share) >= LEVEL_SHARE or np.median(to_come) <= LEVEL_KG)


def is_little(to_come: Floats) -> bool:
    """Whether what is still to come is more likely than not too little to stay for."""
    return bool(np.median(to_come) <= LITTLE_KG)


def under_half(seen: Outlook | None, fit: SaturatingFit | None) -> Finding | None:
    """`under_half_of_asymptote`: from the fit where there is one, else from the forecast of the house curve."""
    if fit is not None:
        return next(iter(fit.findings), None)
    if seen is None or seen.is_by_emitter or seen.share is None:
        return None
    share = float(np.median(seen.share))
    return next(iter(curve.under_half(share, None, math.inf)), None)


def levelled_off(job: JobCatch, seen: Outlook | None) -> Finding | None:
    """`levelled_off`: what is worked on gives next to nothing more; move on, or stop."""
    if seen is None:
        return None
    minutes, kg, name = curve_in_hand(job, seen)
    to_come = seen.to_come
    if seen.is_by_emitter and seen.in_focus is not None:
        to_come = seen.emitters[seen.in_focus].to_come
    if not is_level(seen.share, to_come, minutes.size):
        return None
    latest_g = 1000.0 * float(np.diff(kg, prepend=0.0)[-1])
    spent = float(np.diff(minutes, prepend=0.0)[-1])
    what_next = "Move the flow on, or stop" if is_little(seen.to_come) else "Move the flow on: more is due elsewhere"
    return Finding(
        "levelled_off",
        f"{name} has levelled off: the last {spent:.0f} minutes gave {latest_g:.0f} g. {what_next}. "
        "Check first that the magnet was cleaned right down and that flow and heat had not dropped.",
        {"latest_g": latest_g, "latest_minutes": spent, "to_come_kg": float(np.median(to_come))},
    )


def catch_rises(job: JobCatch, seen: Outlook | None) -> Finding | None:
    """`catch_rises`: the two latest weighings came faster than those before, so the curve does not hold yet."""
    minutes, kg, name = curve_in_hand(job, seen)
    spent, caught = np.diff(minutes, prepend=0.0), np.diff(kg, prepend=0.0)
    if minutes.size < MIN_RISE_CATCHES or spent[0] <= 0 or kg[-3] <= 0:
        return None
    before, latest = float(kg[-3] / minutes[-3]), caught[-2:] / spent[-2:]
    if not (latest > RISE * before).all():
        return None
    return Finding(
        "catch_rises",
        f"{name} gives more now than before: {1000 * latest[-1]:.0f} g a minute against {1000 * before:.0f} at first. "
        "Debris has broken loose, so carry on; what is said to be left is too low as long as it rises. "
        "Check first whether heat, flow or shaking changed, and empty the magnet more often.",
        {"latest_g_min": 1000.0 * float(latest[-1]), "before_g_min": 1000.0 * before},
    )
