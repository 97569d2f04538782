"""One job's catch at one moment: what has come, what is still to come, when it levels off, what to do next.

START HERE: `job_catch` (from a build) or `job_catch_by_hand` → `watch` → `as_json`. Uses nothing later than
`at`. Levelled off means that 95 % of what the curve would ever give has come.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np

from models.catch import wording
from models.catch.curve_fit.curve import fit_saturating_curve
from models.catch.exhaustion.emitter_priority import ranked
from models.catch.exhaustion.exhaustion_forecast import (
    MIN_FOCUS_CATCHES,
    MIN_HOUSE_CATCHES,
    Outlook,
    is_by_emitter,
    outlook,
)
from models.catch.records.flush_clock import clock_at, minutes_at
from models.catch.records.job import Catch, EmitterFacts, JobCatch, emitter_curve, emitter_curves, house_curve
from models.catch.records.job_frames import CatchFrames, HandWeighing, job_catch, job_catch_by_hand, job_catches
from models.catch.records.ragged_arrays import Floats
from models.catch.records.serialization import as_json
from models.catch.records.watch_result import EmitterState, EmitterWatch, OneMoreHour, SaturatingFit, Watch
from models.catch.stopping import stopping_wording
from models.catch.stopping.predict_stopping import CrewForecast, expect
from models.catch.stopping.train_stopping import Learnt
from models.catch.warnings.alerts import alerts, is_level
from models.quantiles import LEVELS, Quantiles
from models.refusals import Refusal
from pipeline.contract.findings import Finding
from pipeline.contract.units import G_PER_KG

__all__ = [
    "Catch",
    "CatchFrames",
    "EmitterFacts",
    "HandWeighing",
    "JobCatch",
    "Watch",
    "as_json",
    "emitter_curve",
    "house_curve",
    "job_catch",
    "job_catch_by_hand",
    "job_catches",
    "watch",
]

NO_MINUTES = (
    "The log does not say when the flush stopped for the night or began again, so its minutes cannot be counted. "
    "Add a weighing or a reading from before and after the night."
)
NO_CURVE: tuple[Floats, Floats] = (np.zeros(0), np.zeros(0))


def watch(job: JobCatch, at: datetime | None = None, learnt: Learnt | None = None, *, all_fits: bool = True) -> Watch:
    """What is known at clock time `at` (local, as logged); None: at the last moment known.

    With `learnt`, what is still to come on the job is what crews of the book would go on to catch. Masses dry,
    in kg; minutes are flush minutes, nights left out; Refusal where nobody can know them. Too few weighings, or none
    that caught anything, leave `remaining_kg` None with the reason in `answer`. A time before the start of the flush
    is answered as of the start, one after its end as of the end. Without `all_fits` only the curve in hand is fitted,
    which changes no figure of `as_json` and halves the work.
    """
    _refuse_unknown(job)
    moment = min(max(at or job.last_at, job.started_at), job.ended_at or datetime.max)
    now = minutes_at(job.days, moment)
    known = job.known_at(moment, now)
    seen = outlook(known, now, None if learnt is None else learnt.emitters)
    by_emitter, here = is_by_emitter(known), None if seen is None else seen.in_focus
    curves = emitter_curves(known)
    fits = {n: _fit(curve) for n, curve in curves.items() if all_fits or (by_emitter and n == here)}
    house_fit = _fit(house_curve(known)) if all_fits or not by_emitter else None
    in_hand = fits.get(here or 0) if by_emitter else house_fit
    crew = None if learnt is None or known.is_finished else expect(learnt, known, now)
    all_left = None if seen is None else Quantiles.from_sample(seen.to_come)
    level = None if seen is None else Quantiles.from_sample(seen.level_minutes)
    level_at = None if level is None else {n: clock_at(known.days, moment, now, getattr(level, n)) for n in LEVELS}
    quarter = () if seen is None or known.is_finished else ranked(seen.quarter)
    return Watch(
        firm_id=job.firm_id,
        job_id=job.job_id,
        at=moment,
        minutes=now,
        is_finished=known.is_finished,
        caught_kg=_caught(known, is_magnetic=True),
        non_magnetic_kg=_caught(known, is_magnetic=False),
        remaining_kg=all_left if crew is None else crew.kg,
        level_off_minutes=level,
        level_off_at=level_at,
        fit=house_fit,
        emitters=_emitters(known, seen, curves, fits),
        one_more_hour=_hour(known, seen),
        answer=_answer(known, moment, seen, all_left, level_at)
        if crew is None
        else _crew_answer(known, moment, now, crew, all_left),
        findings=alerts(known, seen, in_hand, now) + _changed(learnt, crew),
        if_flow_goes_on_kg=all_left,
        minutes_left=None if crew is None else crew.minutes,
        kind=None if crew is None else crew.kind,
        next_quarter_hour=quarter,
        where_next=wording.where_next(quarter, None if seen is None else seen.in_focus),
        basis=stopping_wording.WIDE_BASIS if crew is None else stopping_wording.learnt_basis(crew),
    )


def _refuse_unknown(job: JobCatch) -> None:
    if not job.knows_minutes:
        raise Refusal(NO_MINUTES)


def _changed(learnt: Learnt | None, crew: CrewForecast | None) -> tuple[Finding, ...]:
    return () if learnt is None or crew is None else stopping_wording.changed(learnt.changes)


def _caught(job: JobCatch, *, is_magnetic: bool) -> float:
    return sum(c.dry_g for c in job.catches if c.is_magnetic == is_magnetic) / G_PER_KG


def _numbers(job: JobCatch) -> list[int]:
    """Emitters to tell of: those weighed on their own, and those of the survey that wait for their turn. While
    the whole system has the flow none waits, and nothing can be said of one alone."""
    weighed = {catch.emitter_no for catch in job.magnet_catches() if catch.emitter_no is not None}
    shares_the_flow = bool(job.magnet_catches()) and not is_by_emitter(job)
    return sorted(weighed if shares_the_flow else weighed | {facts.emitter_no for facts in job.emitters})


def _fit(points: tuple[Floats, Floats]) -> SaturatingFit | None:
    try:
        return fit_saturating_curve(*points, level=0.80)
    except Refusal:
        return None


def _emitters(
    job: JobCatch, seen: Outlook | None, curves: dict[int, tuple[Floats, Floats]], fits: dict[int, SaturatingFit | None]
) -> tuple[EmitterWatch, ...]:
    told = {} if seen is None else seen.emitters
    to_come = dict(zip(told, Quantiles.of_rows([each.to_come for each in told.values()]), strict=True)) if told else {}
    return tuple(_emitter(job, n, seen, curves.get(n, NO_CURVE), to_come.get(n), fits.get(n)) for n in _numbers(job))


def _emitter(
    job: JobCatch,
    number: int,
    seen: Outlook | None,
    curve: tuple[Floats, Floats],
    to_come: Quantiles | None,
    fit: SaturatingFit | None,
) -> EmitterWatch:
    minutes, kg = curve
    mine = seen.emitters.get(number) if seen is not None else None
    state: EmitterState = "still_giving"
    if minutes.size == 0:
        state = "not_started"
    elif mine is None or minutes.size < MIN_FOCUS_CATCHES:
        state = "too_early"
    elif is_level(mine.share, mine.to_come, minutes.size):
        state = "levelled_off"
    caught = float(kg[-1]) if kg.size else 0.0
    has_flow = seen is not None and seen.in_focus == number and not job.is_finished
    return EmitterWatch(
        emitter_no=number,
        caught_kg=caught,
        focus_minutes=float(minutes[-1]) if minutes.size else 0.0,
        catches=int(minutes.size),
        state=state,
        remaining_kg=to_come,
        fit=fit,
        sentence=wording.emitter_sentence(number, state, caught, to_come, has_flow),
    )


def _hour(job: JobCatch, seen: Outlook | None) -> OneMoreHour | None:
    """What one more hour would bring; None without a forecast or without an hourly cost."""
    if seen is None or job.hourly_cost is None:
        return None
    kg = Quantiles.from_sample(seen.hour)
    per_kg = job.hourly_cost / kg.p50 if kg.p50 > 0 else None
    return OneMoreHour(kg, job.hourly_cost, per_kg, job.currency)


def _crew_answer(job: JobCatch, at: datetime, now: float, crew: CrewForecast, all_left: Quantiles | None) -> str:
    ends_at = {name: clock_at(job.days, at, now, now + getattr(crew.minutes, name)) for name in LEVELS}
    return stopping_wording.expected_answer(crew, ends_at, at, all_left)


def _answer(
    job: JobCatch, at: datetime, seen: Outlook | None, remaining: Quantiles | None, level_at: dict[str, datetime] | None
) -> str:
    caught = _caught(job, is_magnetic=True)
    if job.is_finished and caught > 0:
        return wording.finished_answer(caught, remaining, at)
    if seen is None or remaining is None or level_at is None:
        needed = MIN_FOCUS_CATCHES if is_by_emitter(job) else MIN_HOUSE_CATCHES
        return wording.refused_answer(len(job.magnet_catches()), caught, needed)
    share = seen.share if not seen.is_by_emitter else np.array([0.0])
    return wording.running_answer(remaining, level_at, at, is_level(share, seen.to_come, MIN_HOUSE_CATCHES))
