"""Kilograms still to come, when it levels off, and what one more hour brings: draws, not yet words.

Two ways of working, told by the log itself. Whole system at once: one house curve. One emitter at a
time: the emitter that has the flow, plus those not started, judged by those done; what was left behind in
an emitter the crew has moved on from is told for that emitter and not counted in the house.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.job import JobCatch, emitter_curve, house_curve
from models.catch.posterior import (
    DRAWS,
    EMITTER_PRIOR,
    HOUSE_PRIOR,
    Draws,
    Increments,
    draw,
    grid_posterior,
    increments,
    still_to_come,
)
from models.catch.ragged import Floats
from models.catch.unstarted import unstarted_draws
from pipeline.units import MINUTES_PER_HOUR

LEVEL_SHARE = 0.95  # levelled off: this share of what the curve would ever give has come
LEVEL_TAUS = -np.log(1.0 - LEVEL_SHARE)
MIN_HOUSE_CATCHES = 3
MIN_FOCUS_CATCHES = 2
SEED = 20_31  # draws repeat: the same job at the same moment gives the same figures


@dataclass(frozen=True, slots=True, eq=False)
class EmitterOutlook:
    """Draws for one emitter, shape (DRAWS,): kilograms to come and share of its pool caught."""

    to_come: Floats
    share: Floats | None


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Draws for the house, shape (DRAWS,) each: kilograms to come, flush minute of levelling off, kilograms
    in the next hour, share caught on the curve in hand (house, or the emitter that has the flow)."""

    is_by_emitter: bool
    in_focus: int | None
    to_come: Floats
    level_minutes: Floats
    hour: Floats
    share: Floats | None
    emitters: dict[int, EmitterOutlook]


def is_by_emitter(job: JobCatch) -> bool:
    """Most magnet weighings name one emitter that had the flow."""
    magnet = job.magnet_catches()
    return 2 * sum(catch.emitter_no is not None for catch in magnet) > len(magnet)


def in_focus(job: JobCatch) -> int | None:
    """The emitter that had the flow at the latest magnet weighing; None: whole system, or none yet."""
    magnet = job.magnet_catches()
    return magnet[-1].emitter_no if magnet else None


def outlook(job: JobCatch, now: float) -> Outlook | None:
    """Draws for a job as known at flush minute `now`; None where the weighings are too few or all zero."""
    magnet = job.magnet_catches()
    if not any(catch.dry_g > 0 for catch in magnet):
        return None
    rng = np.random.default_rng(SEED)
    if not is_by_emitter(job):
        return _house(job, now, rng) if len(house_curve(job)[0]) >= MIN_HOUSE_CATCHES else None
    return _by_emitter(job, now, rng) if len(magnet) >= MIN_FOCUS_CATCHES else None


def _house(job: JobCatch, now: float, rng: np.random.Generator) -> Outlook:
    data = increments([house_curve(job)])
    draws = draw(grid_posterior(data, HOUSE_PRIOR), rng)
    to_come = still_to_come(draws, data, rng)[0]
    tau, since = draws.tau[0], now - float(data.last[0])
    return Outlook(
        is_by_emitter=False,
        in_focus=None,
        to_come=to_come,
        level_minutes=LEVEL_TAUS * tau,
        hour=to_come * -np.expm1(-(since + MINUTES_PER_HOUR) / tau),
        share=-np.expm1(-data.last[0] / tau),
        emitters={},
    )


def _by_emitter(job: JobCatch, now: float, rng: np.random.Generator) -> Outlook:
    numbers = sorted({c.emitter_no for c in job.magnet_catches() if c.emitter_no is not None})
    data = increments([emitter_curve(job, number) for number in numbers])
    draws = draw(grid_posterior(data, EMITTER_PRIOR, share_tau=True), rng)
    to_come = still_to_come(draws, data, rng)
    share = -np.expm1(-data.last[:, None] / draws.tau)
    emitters = {no: EmitterOutlook(to_come[at], share[at]) for at, no in enumerate(numbers)}
    waiting = [facts.emitter_no for facts in job.emitters if facts.emitter_no not in emitters]
    here = in_focus(job)
    at = numbers.index(here) if here is not None else None
    if waiting:
        fresh = unstarted_draws(*_sizes(job, numbers, waiting, data, to_come, at), rng)
        emitters |= {no: EmitterOutlook(fresh[row], None) for row, no in enumerate(waiting)}
    return _sum(job, now, rng, (data, draws), (here, at), (waiting, emitters))


def _sizes(
    job: JobCatch, numbers: list[int], waiting: list[int], data: Increments, to_come: Floats, at: int | None
) -> tuple[Floats, Floats, Floats]:
    """Kilograms and sizes of the emitters done, the one in hand with what it has to come; sizes to come."""
    contents = {facts.emitter_no: facts.content_l for facts in job.emitters}
    known = all(contents.get(number) for number in (*numbers, *waiting))
    size = {number: float(contents[number] or 1.0) if known else 1.0 for number in (*numbers, *waiting)}
    kg = data.caught.copy()
    if at is not None:
        kg[at] += float(np.median(to_come[at]))
    return kg, np.array([size[n] for n in numbers]), np.array([size[n] for n in waiting])


def _sum(
    job: JobCatch,
    now: float,
    rng: np.random.Generator,
    fitted: tuple[Increments, Draws],
    focus: tuple[int | None, int | None],
    ahead: tuple[list[int], dict[int, EmitterOutlook]],
) -> Outlook:
    """The emitter in hand and those waiting, put together along the time that they take."""
    (data, draws), (here, at), (waiting, emitters) = fitted, focus, ahead
    rest, own, own_hour = np.zeros(DRAWS), np.zeros(DRAWS), np.zeros(DRAWS)
    if here is not None and at is not None:
        since = now - job.magnet_catches()[-1].minutes
        rest = np.maximum(LEVEL_TAUS * draws.tau[at] - data.last[at] - since, 0.0)
        own = emitters[here].to_come
        own_hour = own * -np.expm1(-(since + np.minimum(rest, MINUTES_PER_HOUR)) / draws.tau[at])
    done = np.delete(np.arange(data.last.size), [] if at is None else [at])
    if done.size:
        each = rng.choice(data.last[done], (len(waiting), DRAWS))
    else:
        each = LEVEL_TAUS * rng.permutation(draws.tau[0])[None, :] * np.ones((len(waiting), 1))
    later_minutes = each.sum(axis=0)
    later = np.sum([emitters[no].to_come for no in waiting], axis=0) if waiting else np.zeros(DRAWS)
    reach = np.clip((MINUTES_PER_HOUR - rest) / np.maximum(later_minutes, 1.0), 0.0, 1.0)
    return Outlook(
        is_by_emitter=True,
        in_focus=here,
        to_come=own + later,
        level_minutes=now + rest + later_minutes,
        hour=own_hour + later * reach,
        share=None if here is None else emitters[here].share,
        emitters=emitters,
    )
