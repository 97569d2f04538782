"""One firm against the others of a pool, so that no other firm can be told from what it is shown.

The others are pooled without it. Shown are their mean, its interval and where one more firm would lie; never a firm,
never a count below the least. All of it is over the whole pool, whatever jobs are being looked at: two answers over
slightly different jobs would give the difference away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import PracticeFrames, gather
from models.practice.cohort.contrasts import CONTRASTS
from models.practice.cohort.follow_up import cut_short, is_cut_short, is_silent, refusal
from models.practice.effects.doubly_robust import adjust, compare
from models.practice.effects.verdicts import FALSE_SHARE, Z, q_values, two_sided
from models.practice.pool.pooled_effects import Pooled, pooled_effect, random_effects
from models.practice.results.pool_results import AgainstOthers, FirmEffect, OwnFirm, PooledEffect
from models.refusals import NotEnoughData, Refusal
from models.threads import threads_for

Floats = NDArray[np.float64]
FEWEST_OTHERS = 5
"""Other firms with figures of their own below which nothing of them is shown (a stated choice)."""
MOST_OF_ONE = 0.5
"""Share of the weight that one other firm may have: above it their mean would be that firm's own figure."""
NOT_DONE = "No job of your own that the audit compares."
NOT_TOLD = "Too few comparable jobs in the whole pool."
TOO_FEW = f"Fewer than {FEWEST_OTHERS} other firms have enough jobs and callbacks; nothing of them is shown."
TOO_LARGE = "One other firm would make up most of the mean; nothing of it is shown."


def own_firm(frames: PracticeFrames, firm_id: str, progress: Callable[[int, int], None] | None = None) -> OwnFirm:
    """A firm against the others, from the tables of a whole pool. NotEnoughData without jobs of that firm, Refusal
    where it has handed in no callbacks."""
    with threads_for(len(frames.jobs)):
        records = gather(frames)
        jobs = int((records.frame["firm_id"] == firm_id).sum())
        mine = frames.callback["firm_id"] == firm_id
        if is_silent(frames.callback)[mine].any():
            raise Refusal(refusal(int(mine.sum())))
        if is_cut_short(frames.callback)[mine].any():
            raise Refusal(cut_short(int(mine.sum())))
        if not jobs:
            raise NotEnoughData(what=f"followed jobs of {firm_id}", needed=1, found=0)
        pool = []
        for number, contrast in enumerate(CONTRASTS):
            pooled = pooled_effect(records, adjust(records, compare(records, contrast)))
            if pooled is not None:
                pool.append(pooled)
            if progress is not None:
                progress(number + 1, len(CONTRASTS))
    return against_others(pool, firm_id, jobs)


def against_others(pool: Sequence[PooledEffect], firm_id: str, jobs: int) -> OwnFirm:
    """The same from a pool that has been worked out; practices in its order, chance findings controlled over them."""
    rows = [_row(each, firm_id) for each in pool]
    q = q_values(np.array([np.nan if each.p_value is None else each.p_value for each in rows]))
    judged = [
        replace(row, q_value=None if np.isnan(value) else float(value), place=_place(row, float(value)))
        for row, value in zip(rows, q, strict=True)
    ]
    return OwnFirm(firm_id, jobs, FEWEST_OTHERS, tuple(judged))


def _row(pooled: PooledEffect, firm_id: str) -> AgainstOthers:
    nothing = FirmEffect(firm_id, 0, None, None, None, None, NOT_DONE if pooled.firms else NOT_TOLD)
    own = next((each for each in pooled.firms if each.firm_id == firm_id), nothing)
    others = [each for each in pooled.firms if each.firm_id != firm_id and each.difference is not None]
    if len(others) < FEWEST_OTHERS:
        return AgainstOthers(pooled.contrast, pooled.label, own, refused=TOO_FEW)
    error = np.array([each.standard_error for each in others], dtype=float)
    found = random_effects(np.array([each.difference for each in others], dtype=float), error)
    weight = 1 / (error**2 + found.tau**2)
    if weight.max() > MOST_OF_ONE * weight.sum():
        return AgainstOthers(pooled.contrast, pooled.label, own, refused=TOO_LARGE)
    apart, error_apart = _apart(own, found)
    return AgainstOthers(
        pooled.contrast,
        pooled.label,
        own,
        len(others),
        sum(each.jobs for each in others),
        found.mean,
        found.low,
        found.high,
        found.prediction_low,
        found.prediction_high,
        found.tau,
        found.i_squared,
        apart,
        None if apart is None else apart - Z * error_apart,
        None if apart is None else apart + Z * error_apart,
        None if apart is None else two_sided(apart, error_apart),
    )


def _apart(own: FirmEffect, others: Pooled) -> tuple[float | None, float]:
    """Own effect less the others', and its standard error: of both, and what firms differ by anyway."""
    if own.difference is None or own.standard_error is None:
        return None, 0.0
    of_mean = (others.high - others.low) / (2 * Z)  # its interval is by Student's t, so this is cautious
    return own.difference - others.mean, float(np.sqrt(own.standard_error**2 + of_mean**2 + others.tau**2))


def _place(row: AgainstOthers, q: float) -> str:
    if row.apart is None or np.isnan(q):
        return "not known"
    if q > FALSE_SHARE:
        return "like the others"
    return "does more here" if row.apart < 0 else "does less here"
