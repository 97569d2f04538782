"""Kilograms still to come, when it levels off, and what one more hour brings: draws, not yet words.

Two ways of working, told by the log itself. Whole system at once: one house curve. One emitter at a
time: the emitter that has the flow, plus those not started, judged by those done. What was left behind in
an emitter that the crew has moved on from is told for that emitter; the house counts it only once all have
had the flow, as a second round that may fetch some of it.

What is to come is what would come if the flow went on until nothing more did. Crews stop sooner: what they go on to
catch is told by `models.catch.stopping.predict_stopping`, where past jobs taught it. Emitters not started are judged by
those done, with what past jobs taught of size, kind and cold spots, or by water content alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.exhaustion.emitter_priority import of_flushed, of_waiting
from models.catch.exhaustion.unstarted_emitters import learnt_draws, unstarted_draws
from models.catch.posterior.posterior import (
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
from models.catch.posterior.priors import EmitterPrior
from models.catch.records.job import JobCatch, emitter_curves, house_curve
from models.catch.records.ragged_arrays import Floats, Ints
from pipeline.contract.units import MINUTES_PER_HOUR

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
    in the next hour, share caught on the curve in hand (house, or the emitter that has the flow); `quarter`: kilograms
    in the next quarter hour by emitter, or of the whole system (None)."""

    is_by_emitter: bool
    in_focus: int | None
    to_come: Floats
    level_minutes: Floats
    hour: Floats
    share: Floats | None
    emitters: dict[int, EmitterOutlook]
    quarter: dict[int | None, Floats]


def is_by_emitter(job: JobCatch) -> bool:
    """Most magnet weighings name one emitter that had the flow."""
    magnet = job.magnet_catches()
    return 2 * sum(catch.emitter_no is not None for catch in magnet) > len(magnet)


def in_focus(job: JobCatch) -> int | None:
    """The emitter that had the flow at the latest magnet weighing; None: whole system, or none yet."""
    magnet = job.magnet_catches()
    return magnet[-1].emitter_no if magnet else None


def outlook(job: JobCatch, now: float, prior: EmitterPrior | None = None) -> Outlook | None:
    """Draws for a job as known at flush minute `now`; None where the weighings are too few or all zero."""
    magnet = job.magnet_catches()
    if not any(catch.dry_g > 0 for catch in magnet):
        return None
    rng = np.random.default_rng(SEED)
    if not is_by_emitter(job):
        return _house(job, now, rng) if len(house_curve(job)[0]) >= MIN_HOUSE_CATCHES else None
    return _by_emitter(job, now, prior, rng) if len(magnet) >= MIN_FOCUS_CATCHES else None


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
        quarter={None: of_flushed(draws, data, np.array([since]), rng)[0]},
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Flushed:
    """Emitters that have had the flow, in order of number, with their draws; `at`: the one that has it now."""

    numbers: list[int]
    data: Increments
    draws: Draws
    to_come: Floats
    at: int | None

    @property
    def others(self) -> Ints:
        """Places of those that do not have the flow now."""
        return np.delete(np.arange(len(self.numbers)), [] if self.at is None else [self.at])


def _by_emitter(job: JobCatch, now: float, prior: EmitterPrior | None, rng: np.random.Generator) -> Outlook:
    curves = emitter_curves(job)
    numbers, data = list(curves), increments(list(curves.values()))
    draws = draw(grid_posterior(data, EMITTER_PRIOR, share_tau=True), rng)
    here = in_focus(job)
    at = numbers.index(here) if here is not None else None
    flushed = _Flushed(numbers, data, draws, still_to_come(draws, data, rng), at)
    share = -np.expm1(-data.last[:, None] / draws.tau)
    emitters = {no: EmitterOutlook(flushed.to_come[row], share[row]) for row, no in enumerate(numbers)}
    waiting = [facts.emitter_no for facts in job.emitters if facts.emitter_no not in emitters]
    fresh = (
        unstarted_draws(*_sizes(job, flushed, waiting), rng)
        if prior is None
        else learnt_draws(prior, job, waiting, rng)
    )
    emitters |= {no: EmitterOutlook(fresh[row], None) for row, no in enumerate(waiting)}
    since = now - job.magnet_catches()[-1].minutes
    own, own_minutes, own_hour = _in_hand(flushed, since, bool(waiting), rng)
    later, later_minutes = _waiting(flushed, fresh, rng) if waiting else _second_round(flushed, rng)
    reach = np.clip((MINUTES_PER_HOUR - own_minutes) / np.maximum(later_minutes, 1.0), 0.0, 1.0)
    return Outlook(
        is_by_emitter=True,
        in_focus=here,
        to_come=own + later,
        level_minutes=now + own_minutes + later_minutes,
        hour=own_hour + later * reach,
        share=None if at is None else share[at],
        emitters=emitters,
        quarter=_quarters(flushed, dict(zip(waiting, fresh, strict=True)), since, rng),
    )


def _quarters(
    flushed: _Flushed, fresh: dict[int, Floats], since: float, rng: np.random.Generator
) -> dict[int | None, Floats]:
    """Kilograms of the next quarter hour at each emitter that has had the flow, or waits for it."""
    spent = np.where(np.arange(len(flushed.numbers)) == flushed.at, since, 0.0) if flushed.at is not None else 0.0
    done = of_flushed(flushed.draws, flushed.data, np.broadcast_to(spent, len(flushed.numbers)), rng)
    pools = np.reshape(list(fresh.values()), (len(fresh), DRAWS))
    return {
        **dict(zip(flushed.numbers, done, strict=True)),
        **dict(zip(fresh, of_waiting(pools, flushed.draws, rng), strict=True)),
    }


def _sizes(job: JobCatch, flushed: _Flushed, waiting: list[int]) -> tuple[Floats, Floats, Floats]:
    """Kilograms and sizes of the emitters flushed, the one in hand with what it has to come; sizes to come."""
    contents = {facts.emitter_no: facts.content_l for facts in job.emitters}
    known = all(contents.get(number) for number in (*flushed.numbers, *waiting))
    kg = flushed.data.caught.copy()
    if flushed.at is not None:
        kg[flushed.at] += float(np.median(flushed.to_come[flushed.at]))
    sizes = ([float(contents.get(n) or 1.0) if known else 1.0 for n in some] for some in (flushed.numbers, waiting))
    done, to_come = (np.array(some, dtype=float) for some in sizes)
    return kg, done, to_come


def _in_hand(
    flushed: _Flushed, since: float, is_others_waiting: bool, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Of the emitter that has the flow: kilograms to come, minutes it will keep it, kilograms in the next hour.
    With others waiting it keeps the flow no longer than those before it did."""
    at, data, draws = flushed.at, flushed.data, flushed.draws
    if at is None:
        return np.zeros(DRAWS), np.zeros(DRAWS), np.zeros(DRAWS)
    stay = LEVEL_TAUS * draws.tau[at]
    if flushed.others.size and is_others_waiting:
        stay = np.minimum(stay, rng.choice(data.last[flushed.others], DRAWS))
    rest = np.maximum(stay - data.last[at] - since, 0.0)
    to_come = flushed.to_come[at]
    return to_come, rest, to_come * -np.expm1(-(since + np.minimum(rest, MINUTES_PER_HOUR)) / draws.tau[at])


def _waiting(flushed: _Flushed, fresh: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Kilograms and minutes of the emitters not started, each as long as one of those before it took."""
    if flushed.others.size:
        minutes = rng.choice(flushed.data.last[flushed.others], fresh.shape)
    else:
        minutes = np.tile(LEVEL_TAUS * rng.permutation(flushed.draws.tau[0]), (fresh.shape[0], 1))
    return fresh.sum(axis=0), minutes.sum(axis=0)


def _second_round(flushed: _Flushed, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Once every emitter has had the flow, going round again fetches some of what was left behind. How much
    the crew will go back for is not known: a share anywhere between none and all, one weighing each."""
    share = rng.uniform(0.0, 1.0, DRAWS)
    one_weighing = float((flushed.data.last / flushed.data.size)[flushed.others].sum())
    return share * flushed.to_come[flushed.others].sum(axis=0), share * one_weighing
