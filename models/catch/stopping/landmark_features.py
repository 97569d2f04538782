"""What is to be seen of a job at one moment, as numbers: the same for learning, replay and watch.

Three kinds of work differ: one emitter at a time, group after group, and the whole system at once. Where weighings
name no emitter and the plan does not say, it is one of the latter two: `together`. A kind with too few past jobs is
taken as one of `any`. A job of which nothing but weighings is known is `bare`: told as one of the book's usual.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from models.catch.posterior.job_arrays import JobArrays
from models.catch.posterior.priors import EmitterPrior, pool_log_kg
from models.catch.records.ragged_arrays import Floats, Ints
from models.catch.stopping.end_signs import SIGNS, EndSigns, signs_at, signs_row

Kind = Literal["one_at_a_time", "groups", "all_open", "together", "any", "bare"]
KINDS: tuple[Kind, ...] = ("one_at_a_time", "groups", "all_open", "together", "any", "bare")
COVERS: dict[Kind, tuple[Kind, ...]] = {"together": ("groups", "all_open", "together"), "any": KINDS, "bare": KINDS}
"""Kinds learnt from the moments of several; the others from their own."""
EPS_KG = 0.02  # a site scale reads no finer; logs of kilograms start here
RISE = 1.3  # a catch that comes this many times as fast as the one before: a new group has the flow
EMITTERS_A_GROUP = 3  # common practice, no source
TAUS_A_JOB = 3.0  # e^−3 is 5 %
PROGRESS = "progress"
"""Name of the share of the planned time that is over, among the features of every kind."""
MOST_PROGRESS = 1.5  # of the planned time; beyond, what counts by progress counts no more
LEAST_RATE = 2e-4  # kg a minute; logs of rates start here
LEAST_MINUTES = 5.0  # clock times are rounded to as much: a pace over less is not known

COUNTED_BY_PROGRESS = ("log_expected_kg", "log_caught_kg", "log_latest_rate", "log_recent_rate", "log_mean_rate")
COMMON_FEATURES = (
    "log_planned_minutes",
    "log_minutes_left",
    PROGRESS,
    "progress_squared",
    "progress_over_four_fifths",
    "log_minutes",
    "minutes_since_weighing",
    "log_minutes_between_weighings",
    "log_expected_kg",
    "log_caught_kg",
    "log_expected_left_kg",
    "log_latest_rate",
    "log_recent_rate",
    "log_mean_rate",
    "log_emitters",
    *(f"{name}_by_progress" for name in COUNTED_BY_PROGRESS),
    *SIGNS,
)
"""Features of every kind of work, in order; logarithms are natural, rates kg a minute."""
BY_EMITTER_FEATURES = (
    *COMMON_FEATURES,
    "log_base_kg",
    "log_hand_kg",
    "log_behind_kg",
    "log_waiting_kg",
    "waiting_share",
    "waiting_share_squared",
    "waiting_count",
    "done_count",
    "is_last_emitter",
    "last_log_behind_kg",
    "last_log_hand_kg",
    "last_log_minutes_left",
    "last_weighing_overdue",
    "late_by_waiting_share",
    "log_base_kg_by_waiting_share",
    "is_second_round",
    "log_hand_minutes",
    "house_effect",
    "house_effect_sd",
)
"""Features of a job done one emitter at a time, in order; `last_…` are 0 while another emitter waits."""
HOUSE_FEATURES = (
    *COMMON_FEATURES,
    "log_highest_rate",
    "log_house_to_come_kg",
    "house_log_tau",
    "log_recent_rate_to_the_end_kg",
    "log_mean_rate_to_the_end_kg",
    "groups",
    "groups_to_come",
    "rises",
    "since_rise",
    "jump",
)
"""Features of a job with several emitters open at once, in order."""


def features_of(kind: Kind) -> tuple[str, ...]:
    """The names of a kind's features, in order."""
    return BY_EMITTER_FEATURES if kind == "one_at_a_time" else HOUSE_FEATURES


@dataclass(frozen=True, slots=True, eq=False)
class PlanForecast:
    """What a job was expected to give before it began: log kilograms and log minutes."""

    log_kg: float
    log_minutes: float


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """The emitters at one moment by the weighings alone: places of those that had the flow, with log kilograms held and
    what has not come as a share of what has, (emitters,) each; places of those waiting; kilograms to come in hand and
    behind."""

    seen: Ints
    waiting: Ints
    log_kg: Floats
    to_come_share: Floats
    hand: float
    behind: float
    hand_minutes: float
    is_second_round: bool


@dataclass(frozen=True, slots=True, eq=False)
class Glance:
    """What the weighings alone say at flush minute `now`: `known` of them, kg caught, minutes, kg a minute (NaN in the
    first `LEAST_MINUTES`, as is what the curve promises: the plan then stands for them); `standing` of the emitters
    where they are done one at a time."""

    kind: Kind
    standing: Standing | None
    now: float
    known: int
    caught: float
    last_minute: float
    pace: float
    latest_rate: float
    recent_rate: float
    mean_rate: float
    highest_rate: float
    house_to_come: float
    house_log_tau: float
    rises: int
    since_rise: int
    jump: float
    signs: EndSigns


@dataclass(frozen=True, slots=True, eq=False)
class Pools:
    """Kilograms at one moment by what is to become of them: in the emitter that has the flow, in those waiting,
    and behind in those left. `effect` and `effect_sd` are of the house; `log_kg` is of each emitter of the job."""

    hand: float
    waiting: float
    behind: float
    waiting_count: int
    done_count: int
    hand_minutes: float
    is_second_round: bool
    effect: float
    effect_sd: float
    log_kg: Floats


def kind_of(arrays: JobArrays, now: float) -> Kind:
    """How the flow is focused: told by the weighings so far, else by the plan."""
    at = arrays.at[: known_count(arrays, now)]
    if at.size and 2 * int((at >= 0).sum()) > at.size:
        return "one_at_a_time"
    if arrays.isolation == "groups":
        return "groups"
    return "all_open" if arrays.isolation == "all_open" else "together"


def known_count(arrays: JobArrays, now: float) -> int:
    """Weighings known at flush minute `now`; a second's tolerance keeps the one made at that very moment."""
    return int(np.searchsorted(arrays.minutes, now + 1.0 / 60.0, side="right"))


def pools(arrays: JobArrays, known: int, prior: EmitterPrior, expected: Floats) -> Pools:
    """The pools after `known` weighings, at least one of them of an emitter."""
    return pools_of(standing(arrays, known), prior, expected)


def standing(arrays: JobArrays, known: int) -> Standing:
    """How the emitters stand after `known` weighings, at least one of them of an emitter."""
    rows = arrays.own_rows < known
    places = arrays.at[arrays.own_rows]
    last = np.flatnonzero(rows & np.append(~rows[1:] | (places[1:] != places[:-1]), [True]))
    seen = places[last]
    to_come = arrays.own.to_come[last]
    here = int(arrays.at[:known][arrays.at[:known] >= 0][-1])
    mine = seen == here
    waits = np.ones(len(arrays.numbers), dtype=bool)
    waits[seen] = False
    return Standing(
        seen=seen,
        waiting=np.flatnonzero(waits),
        log_kg=pool_log_kg(arrays, last),
        to_come_share=arrays.own.to_come_share[last],
        hand=float(to_come[mine].sum()),
        behind=float(to_come[~mine].sum()),
        hand_minutes=float(arrays.focus[arrays.own_rows[last[mine]]].sum()),
        is_second_round=_is_again(arrays.at[:known], here),
    )


def pools_of(found: Standing, prior: EmitterPrior, expected: Floats) -> Pools:
    """The same with what the prior says of the emitters that wait; `expected` (emitters,) are their mean log kg."""
    effect, sd = prior.house_effect(found.log_kg, expected[found.seen], found.to_come_share)
    mean = expected + effect
    half = 0.5 * (sd**2 + prior.own_sd**2)
    by_emitter = mean.copy()
    by_emitter[found.seen] = found.log_kg
    return Pools(
        hand=found.hand,
        waiting=float(np.exp(mean[found.waiting] + half).sum()),
        behind=found.behind,
        waiting_count=len(found.waiting),
        done_count=len(found.seen),
        hand_minutes=found.hand_minutes,
        is_second_round=found.is_second_round,
        effect=effect,
        effect_sd=sd,
        log_kg=by_emitter,
    )


def _is_again(at: Ints, here: int) -> bool:
    """The emitter had the flow before, and others since."""
    named = at[at >= 0]
    turns = named[np.flatnonzero(np.diff(named, prepend=-2))]
    return int((turns == here).sum()) > 1


def glance(arrays: JobArrays, now: float) -> Glance | None:
    """None before the first weighing or while nothing has been caught."""
    known = known_count(arrays, now)
    caught = float(arrays.house.caught[known - 1]) if known else 0.0
    if caught <= 0:
        return None
    rate = arrays.kg[:known] / arrays.spent[:known]
    last = float(arrays.minutes[known - 1])
    sure = 1.0 if last >= LEAST_MINUTES else math.nan
    rises = np.flatnonzero(rate[1:] > RISE * rate[:-1] + 0.0005)
    jump = np.log((rate[-2:] + 1e-3) / (rate[-3:-1] + 1e-3)).max() if known >= 3 else 0.0
    kind = kind_of(arrays, now)
    return Glance(
        kind=kind,
        standing=standing(arrays, known) if kind == "one_at_a_time" else None,
        now=now,
        known=known,
        caught=caught,
        last_minute=last,
        pace=float(np.median(arrays.spent[:known])),
        latest_rate=sure * float(rate[-1]),
        recent_rate=sure * float(rate[-3:].mean()),
        mean_rate=sure * caught / max(last, 1.0),
        highest_rate=sure * float(rate.max()),
        house_to_come=sure * float(arrays.house.to_come[known - 1]),
        house_log_tau=sure * float(arrays.house.log_tau[known - 1]),
        rises=len(rises),
        since_rise=int(known - 1 - (rises[-1] if rises.size else 0)),
        jump=float(jump),
        signs=signs_at(arrays.course, now),
    )


def by_emitter_row(emitters: int, seen: Glance, expected: PlanForecast, found: Pools, base: float) -> Floats:
    """`BY_EMITTER_FEATURES` of a job done one emitter at a time; `base` is the expected catch [kg] from its pools."""
    seen = _by_plan(seen, expected)
    common = _common(emitters, seen, expected)
    share = found.waiting_count / max(emitters, 1)
    is_last = float(found.waiting_count == 0)
    hand, behind = _log(found.hand), _log(found.behind)
    own = {
        "log_base_kg": _log(base),
        "log_hand_kg": hand,
        "log_behind_kg": behind,
        "log_waiting_kg": _log(found.waiting),
        "waiting_share": share,
        "waiting_share_squared": share**2,
        "waiting_count": found.waiting_count,
        "done_count": found.done_count,
        "is_last_emitter": is_last,
        "last_log_behind_kg": is_last * behind,
        "last_log_hand_kg": is_last * hand,
        "last_log_minutes_left": is_last * common["log_minutes_left"],
        "last_weighing_overdue": is_last * common["weighing_overdue"],
        "late_by_waiting_share": share * common["hours_late"],
        "log_base_kg_by_waiting_share": _log(base) * share,
        "is_second_round": float(found.is_second_round),
        "log_hand_minutes": math.log1p(found.hand_minutes),
        "house_effect": found.effect,
        "house_effect_sd": found.effect_sd,
    }
    return _row(BY_EMITTER_FEATURES, common | own)


def house_row(emitters: int, seen: Glance, expected: PlanForecast) -> Floats:
    """`HOUSE_FEATURES` of a job with several of so many emitters open at once; 0: not known."""
    seen = _by_plan(seen, expected)
    common = _common(emitters, seen, expected)
    left_minutes = math.exp(common["log_minutes_left"])
    groups = math.ceil(emitters / EMITTERS_A_GROUP)
    own = {
        "log_highest_rate": math.log(seen.highest_rate + LEAST_RATE),
        "log_house_to_come_kg": _log(seen.house_to_come),
        "house_log_tau": seen.house_log_tau,
        "log_recent_rate_to_the_end_kg": _log(seen.recent_rate * left_minutes),
        "log_mean_rate_to_the_end_kg": _log(seen.mean_rate * left_minutes),
        "groups": groups,
        "groups_to_come": groups - 1 - seen.rises,
        "rises": seen.rises,
        "since_rise": seen.since_rise,
        "jump": seen.jump,
    }
    return _row(HOUSE_FEATURES, common | own)


def _row(names: tuple[str, ...], values: Mapping[str, float]) -> Floats:
    return np.array([values[name] for name in names], dtype=float)


def _by_plan(seen: Glance, expected: PlanForecast) -> Glance:
    """Where no pace can be told yet, that of the curve which would give 95 % of the plan's kilograms by its end, after
    three of its times."""
    if not math.isnan(seen.mean_rate):
        return seen
    kg, log_tau = math.exp(expected.log_kg), expected.log_minutes - math.log(TAUS_A_JOB)
    rate = kg * math.exp(-log_tau)
    return replace(
        seen,
        latest_rate=rate,
        recent_rate=rate,
        mean_rate=rate,
        highest_rate=rate,
        house_to_come=kg,
        house_log_tau=log_tau,
    )


def _common(emitters: int, seen: Glance, expected: PlanForecast) -> dict[str, float]:
    """`COMMON_FEATURES` by name. Early it is the plan that tells, later the weighings, so what is expected, what has
    come and its rates count by progress too."""
    now, planned = seen.now, math.exp(expected.log_minutes)
    progress = now / planned
    found = {
        "log_planned_minutes": expected.log_minutes,
        "log_minutes_left": math.log(max(planned - now, 5.0)),
        PROGRESS: progress,
        "progress_squared": progress**2,
        "progress_over_four_fifths": max(progress - 0.8, 0.0),
        "log_minutes": math.log(max(now, 1.0)),
        "minutes_since_weighing": now - seen.last_minute,
        "log_minutes_between_weighings": math.log(seen.pace),
        "log_expected_kg": expected.log_kg,
        "log_caught_kg": math.log(seen.caught + EPS_KG),
        "log_expected_left_kg": math.log(max(math.exp(expected.log_kg) - seen.caught, 0.03)),
        "log_latest_rate": math.log(seen.latest_rate + LEAST_RATE),
        "log_recent_rate": math.log(seen.recent_rate + LEAST_RATE),
        "log_mean_rate": math.log(seen.mean_rate + LEAST_RATE),
        "log_emitters": math.log(max(emitters, 1)),
    }
    by_progress = min(progress, MOST_PROGRESS)
    found |= {f"{name}_by_progress": by_progress * found[name] for name in COUNTED_BY_PROGRESS}
    return found | signs_row(seen.signs, math.exp(found["log_minutes_left"]), now - seen.last_minute, seen.pace)


def _log(kg: float) -> float:
    return math.log(max(kg, 0.0) + 0.01)
