"""One job laid out as arrays, so that its state at any moment is a look-up: the same for learning and for a watch."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np

from models.catch.posterior.cumulative_posterior import HOUSE_PACE, Pace, Prefix, prefixes
from models.catch.records.course import Course, course_of
from models.catch.records.flush_clock import minutes_at
from models.catch.records.job import JobCatch
from models.catch.records.ragged_arrays import Floats, Ints
from models.quote.estimator.ridge_on_log import transformed
from models.survey_features import FEATURE_NAMES
from pipeline.contract import JOB_LOG
from pipeline.contract.units import G_PER_KG

_KINDS = JOB_LOG["emitters"].column("emitter_kind").choices
LEAST_PACE_SHARE = 0.5  # of the usual time between weighings
EMITTER_FEATURES = ("log_content", "is_cold", *(f"kind={kind}" for kind in _KINDS))


@dataclass(frozen=True, slots=True, eq=False)
class JobArrays:
    """Magnet weighings in order of time, shape (weighings,): flush minutes, kg dry, minutes since the one before,
    place of the emitter that had the flow (−1: whole system); and the state of its curve after each.

    `emitters` (emitters, EMITTER_FEATURES), NaN where not known, those of the survey first, then those that
    were only weighed; `survey` (features,); `end` is the flush minute of its end, NaN while it goes on; `course` holds
    clock and readings.
    """

    minutes: Floats
    kg: Floats
    spent: Floats
    at: Ints
    focus: Floats
    own: Prefix
    own_rows: Ints
    house: Prefix
    numbers: tuple[int, ...]
    emitters: Floats
    survey: Floats
    isolation: str
    quoted_minutes: float
    end: float
    course: Course


def job_arrays(job: JobCatch, pace: Pace) -> JobArrays | None:
    """The job as arrays; None without a magnet weighing. `pace` is the belief about emitters."""
    magnet = job.magnet_catches()
    if not magnet:
        return None
    facts = {each.emitter_no: each for each in job.emitters}
    weighed = {c.emitter_no for c in magnet if c.emitter_no is not None}
    numbers = (*facts, *sorted(weighed - set(facts)))
    place = {number: i for i, number in enumerate(numbers)}
    minutes = np.array([c.minutes for c in magnet], dtype=float)
    kg = np.array([c.dry_g for c in magnet], dtype=float) / G_PER_KG
    at = np.array([-1 if c.emitter_no is None else place[c.emitter_no] for c in magnet], dtype=np.intp)
    focus = np.array([c.minutes if c.focus_minutes is None else c.focus_minutes for c in magnet], dtype=float)
    spent = np.maximum(np.diff(minutes, prepend=0.0), 1.0)
    # clock times are rounded: a first weighing may stand at the very moment at which its emitter got the flow, and a
    # pool cannot be told from no minutes at all
    focus = np.maximum(focus, LEAST_PACE_SHARE * float(np.median(spent)))
    rows, own = _own(at, focus, kg, pace)
    whole = prefixes(np.concatenate(([0.0], minutes[:-1])), minutes, kg, np.array([0]), np.array([len(kg)]), HOUSE_PACE)
    return JobArrays(
        minutes,
        kg,
        spent,
        at,
        focus,
        own,
        rows,
        whole,
        numbers,
        np.array([_emitter(facts.get(n)) for n in numbers], dtype=float).reshape(len(numbers), len(EMITTER_FEATURES)),
        transformed(np.array([job.survey or [nan] * len(FEATURE_NAMES)], dtype=float))[0],
        job.isolation,
        nan if job.quoted_minutes is None else job.quoted_minutes,
        nan if job.ended_at is None else minutes_at(job.days, job.ended_at),
        course_of(job.days, job.readings),
    )


def _own(at: Ints, focus: Floats, kg: Floats, pace: Pace) -> tuple[Ints, Prefix]:
    """Each emitter's own curve after each weighing of it; rows sorted by emitter, then time."""
    rows = np.flatnonzero(at >= 0)
    rows = rows[np.argsort(at[rows], kind="stable")]
    if rows.size == 0:
        none = np.zeros(0)
        return rows, Prefix(none, none, none, none)
    starts = np.flatnonzero(np.diff(at[rows], prepend=-2))
    size = np.diff(np.append(starts, rows.size))
    after = np.maximum(focus[rows], 1e-3)
    before = np.concatenate(([0.0], after[:-1]))
    before[starts] = 0.0
    return rows, prefixes(np.minimum(before, after), after, kg[rows], starts, size, pace)


def _emitter(facts: object) -> list[float]:
    content = getattr(facts, "content_l", None)
    cold = getattr(facts, "is_cold", None)
    kind = getattr(facts, "kind", "")
    return [
        nan if not content else float(np.log(content)),
        nan if cold is None else float(cold),
        *(float(kind == each) if kind else nan for each in _KINDS),
    ]
