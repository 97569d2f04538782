"""What a plan does to the chance of a callback, against the usual ways of the jobs that the rate comes from.

The rate is that of jobs flushed in all the ways of a book. A plan moves it by what its own ways are known to do:
- where the practice audit has a verdict on that very practice, by the audit's adjusted effect;
- else by the kilograms that the ways of flushing move in this house (`flush_ways`), times the risk per kilogram, which
  is told of kilograms so moved and of no others (`models.practice.effects.risk_per_kg`). No more kilograms count than
  catches usually lie from their middle.
Never both: a practice with a verdict is left at the usual ways where kilograms are counted. What a plan does not say
moves nothing. Against the usual ways and not against the plan asked for, so that an offer costs the same whichever was
asked first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.practice.effects.change_by_kg import change_in_risk, within_usual
from models.quote.base.callback_cost import CallbackCost, PlanChange
from models.quote.base.targets import Placement, TargetModel
from models.quote.model.callback_inputs import AuditedEffect, Returns
from models.quote.model.flush_ways import WAYS, kilograms_moved, said
from models.survey_features import FEATURES, POSITION, POSITIONS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class PlannedFilters:
    """Of n plans: one is to be fitted on the return, or none is though none is there; else one is there."""

    fitted: Flags
    declined: Flags


def costs_of(
    base: CallbackCost,
    told: Returns | None,
    model: TargetModel,
    placed: Placement,
    scores: Floats,
    x: Floats,
    filters: PlannedFilters,
) -> list[CallbackCost]:
    """What each of the rows x (n, p) counts for return visits; `base` is what the plain rate gives.

    `model` forecasts magnetite and has `placed` the rows; `scores` (s,) are those of the joint scenarios.
    """
    if told is None or base.why_nought:
        return [base] * len(x)
    base = replace(base, why_not_own=told.why_not_own)
    steps, handled = _steps(told, x, filters)
    is_told = told.per_kg is not None and told.per_kg.per_kg is not None
    counted = said(x) & ~handled & is_told
    if not counted.any() and not steps.any():
        why = "" if told.per_kg is None or is_told else told.per_kg.refused
        return [replace(base, why_plain=why)] * len(x)
    kilos = kilograms_moved(model, placed, scores, x, told.usual.ways, counted).tolist()
    within = [within_usual(told.per_kg, kg) if told.per_kg else 0.0 for kg in kilos]
    names = [each.contrast for each in told.shown]
    more = [{name: by for name, by in zip(names, row, strict=True) if by} for row in steps.tolist()]
    return [replace(base, change=moved(told, kg, by)) for kg, by in zip(within, more, strict=True)]


def moved(told: Returns, kilograms: float, steps: Mapping[str, float]) -> PlanChange:
    """The change of chance by so many kilograms more, and so much more of each contrast; ends are added up."""
    nothing = (0.0, 0.0, 0.0)
    parts = [nothing if told.per_kg is None else change_in_risk(told.per_kg, kilograms) or nothing]
    effects = {each.contrast: each for each in told.shown}
    for contrast, by in steps.items():
        low, high = sorted((effects[contrast].low * by, effects[contrast].high * by))
        parts.append((effects[contrast].difference * by, low, high))
    change, low, high = (sum(column) for column in zip(*parts, strict=True))
    return PlanChange(change, low, high, kilograms, tuple(steps.items()))


def between(told: Returns | None, plan: CallbackCost | None, asked: CallbackCost | None) -> PlanChange | None:
    """How far one plan lies from another for the same house; None where nothing is known to move either."""
    if told is None or plan is None or asked is None or plan.change is None or asked.change is None:
        return None
    ours, theirs = dict(plan.change.steps), dict(asked.change.steps)
    steps = {name: ours.get(name, 0.0) - theirs.get(name, 0.0) for name in {**ours, **theirs}}
    kilograms = plan.change.kilograms - asked.change.kilograms
    return moved(told, kilograms, {name: by for name, by in steps.items() if abs(by) > 1e-12})


def _steps(told: Returns, x: Floats, filters: PlannedFilters) -> tuple[Floats, Flags]:
    """How much more of each contrast (n, contrasts) than usual, and which of `WAYS` (n, ways) that settles.

    A practice is settled where the plan does one of the things that verdicts are told of, or what they are told
    against: that risk then lies Σ share × effect from the usual one.
    """
    steps, handled = np.zeros((len(x), len(told.shown))), np.zeros((len(x), len(WAYS)), dtype=bool)
    for column in dict.fromkeys(each.column for each in told.shown):
        at = [i for i, each in enumerate(told.shown) if each.column == column]
        does = np.stack([_does(told.shown[i], x, filters) for i in at], axis=1)
        settled = does.any(axis=1) | _does_without(told.shown[at[0]], x, filters)
        share = np.array([told.usual.shares[told.shown[i].contrast] for i in at])
        steps[:, at] = np.where(settled[:, None], does - share, 0.0)
        if column in WAYS:
            handled[:, list(WAYS).index(column)] = settled
    return steps, handled


def _does(each: AuditedEffect, x: Floats, filters: PlannedFilters) -> Flags:
    if each.column == "filter_fitted":
        return filters.fitted if each.with_value == "on_return" else np.zeros(len(x), dtype=bool)
    if each.with_low is not None and each.with_high is not None:
        amount = x[:, POSITION[each.column]]
        return np.asarray((amount >= each.with_low) & (amount <= each.with_high))
    return _chose(each.column, each.with_value, x)


def _does_without(each: AuditedEffect, x: Floats, filters: PlannedFilters) -> Flags:
    if each.column == "filter_fitted":
        return filters.declined
    if each.with_low is not None:
        return np.asarray(x[:, POSITION[each.column]] == 0)
    return _chose(each.column, each.without_value, x)


def _chose(column: str, word: str, x: Floats) -> Flags:
    choices: Sequence[int] = [i for i in POSITIONS[column] if FEATURES[i].choice == word]
    return np.asarray(x[:, choices[0]] == 1) if choices else np.zeros(len(x), dtype=bool)
