"""What a book tells of return visits: rates, what a kilogram does to them, what the practice audit has shown; kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from models.practice.results.curve_results import RiskPerKg
from models.quote.base.callback_cost import CallbackRate, callback_rate
from models.quote.model.flush_ways import WAY_FEATURES, usual_ways
from models.store import Stored, has_model, load_model, save_model
from models.threads import threads_for
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    import pandas as pd

    from models.practice.cohort.audited_jobs import PracticeFrames, Records
    from models.practice.effects.doubly_robust import Adjusted

Floats = NDArray[np.float64]

FOLDER = "return_visits"
"""Its own folder within the models of a build."""

PLANNED = ("filter_fitted", "predose_days", "heat_source", "connection", "isolation", "agitation")
"""Practices that a quote can plan; what the audit shows of another moves no price."""


@dataclass(frozen=True, slots=True)
class AuditedEffect:
    """An effect that the practice audit has a verdict on: risk with less risk without, shrunk towards none, 95 % range.

    `with_low`..`with_high` replace the one value of an amount.
    """

    contrast: str
    column: str
    with_value: str
    without_value: str
    label: str
    difference: float
    low: float
    high: float
    with_low: float | None = None
    with_high: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Usual:
    """Some jobs: their callback rate, their ways of flushing (m, k) as `usual_ways`, and the share of those that say
    what they did which did it, by contrast."""

    rate: CallbackRate
    ways: Floats
    shares: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Returns:
    """Of all jobs of a book; in a book of several firms `own` holds each firm's.

    `why_not_own` says why a firm that asks is given what all jobs tell.
    """

    usual: Usual
    per_kg: RiskPerKg | None = None
    shown: tuple[AuditedEffect, ...] = ()
    own: Mapping[str, Usual] = field(default_factory=dict)
    why_not_own: str = ""

    def of_firm(self, firm_id: str) -> Returns:
        """As it stands for one firm: with its own rate where that is told."""
        own = self.own.get(firm_id)
        if own is None:
            return self if not self.own else replace(self, why_not_own="this firm has no job on record")
        if own.rate.refused:
            return replace(self, why_not_own=f"of this firm's own, {own.rate.refused}")
        return replace(self, usual=own)


def learn_returns(frames: PracticeFrames) -> Returns:
    """From the tables of a build; what cannot be told is refused in its place, never raised."""
    from models.practice.cohort.audited_jobs import gather
    from models.practice.effects.risk_per_kg import risk_per_kg

    records = gather(frames)
    with threads_for(len(records.days)):
        shown = tuple(each for each in verdicts(records) if each.column in PLANNED)
        per_kg = risk_per_kg(records)
    firms = np.unique(frames.callback["firm_id"].astype(str)).tolist()
    own = {firm: _usual(frames, shown, firm) for firm in firms} if len(firms) > 1 else {}
    return Returns(_usual(frames, shown), per_kg, shown, own)


def verdicts(records: Records) -> list[AuditedEffect]:
    """Effects that the audit has a verdict on, chance findings controlled over all practices.

    Its estimates shrunk towards none: those with a verdict are the ones that luck helped.
    """
    from models.practice.cohort.contrasts import CONTRASTS
    from models.practice.effects.doubly_robust import adjust, compare
    from models.practice.effects.shrinkage import shrunk
    from models.practice.effects.verdicts import q_values, verdict

    effects = [adjust(records, compare(records, contrast)) for contrast in CONTRASTS]
    p = [np.nan if each.p_value is None else each.p_value for each in effects]
    pairs = zip(effects, q_values(np.array(p)).tolist(), strict=True)
    tested = [(each, each.estimate.difference, each.standard_error, q) for each, q in pairs if each.estimate]
    means, spreads = shrunk(np.array([d for _, d, _, _ in tested]), np.array([e for _, _, e, _ in tested], dtype=float))
    return [
        _audited_effect(each, mean, spread)
        for (each, difference, _, q), mean, spread in zip(tested, means.tolist(), spreads.tolist(), strict=True)
        if verdict(difference, q) != "cannot be told yet"
    ]


def _audited_effect(effect: Adjusted, difference: float, spread: float) -> AuditedEffect:
    from models.practice.effects.verdicts import Z

    contrast, half = effect.compared.contrast, Z * spread
    span = contrast.with_range or (None, None)
    return AuditedEffect(
        contrast.name,
        contrast.column,
        contrast.with_value,
        contrast.without_value,
        contrast.label,
        difference,
        difference - half,
        difference + half,
        *span,
    )


def _usual(frames: PracticeFrames, shown: tuple[AuditedEffect, ...], firm: str | None = None) -> Usual:
    from models.practice.cohort.contrasts import BY_NAME, done
    from models.survey_features import encode

    quote, jobs = (_of(frame, firm) for frame in (frames.quote, frames.jobs))
    shares = {}
    for each in shown:
        frame = jobs if each.column == "filter_fitted" else quote
        known = int(frame[each.column].notna().sum())
        shares[each.contrast] = float(done(BY_NAME[each.contrast], frame)[0].sum() / known) if known else 0.0
    return Usual(callback_rate(frames.callback, firm), usual_ways(encode(quote)), shares)


def _of(frame: pd.DataFrame, firm: str | None) -> pd.DataFrame:
    return frame if firm is None else frame[frame["firm_id"] == firm]


def learn_and_store(frames: PracticeFrames, folder: Path) -> Returns:
    """Learn it and keep it in a build's models folder."""
    found = learn_returns(frames)
    store_returns(found, folder)
    return found


def store_returns(found: Returns, folder: Path) -> None:
    """Keep it in a build's models folder, in place of what is there."""
    every = [found.usual, *found.own.values()]
    arrays = {f"ways_{i}": each.ways for i, each in enumerate(every)}
    facts: dict[str, Any] = {
        "usual": [{"rate": asdict(each.rate), "shares": dict(each.shares)} for each in every],
        "per_kg": found.per_kg and asdict(found.per_kg),
        "shown": [asdict(each) for each in found.shown],
        "ways": list(WAY_FEATURES),
    }
    save_model(folder / FOLDER, Stored(arrays=arrays, facts=facts), {"model": FOLDER})


def load_returns(folder: Path) -> Returns | None:
    """What is stored in a models folder; None where there is nothing. SludgebookError where it was learnt by other
    questions than are asked now, or is damaged."""
    if not has_model(folder / FOLDER):
        return None
    stored = load_model(folder / FOLDER)
    facts = stored.facts
    if facts["ways"] != list(WAY_FEATURES):
        raise SludgebookError(
            "What was learnt of return visits is of an older form; run `sludgebook train` so that prices count them."
        )
    every = [
        Usual(CallbackRate(**fact["rate"]), stored.arrays[f"ways_{i}"], fact["shares"])
        for i, fact in enumerate(facts["usual"])
    ]
    per_kg = None if facts["per_kg"] is None else RiskPerKg(**facts["per_kg"])
    own = {str(each.rate.firm_id): each for each in every[1:]}
    return Returns(every[0], per_kg, tuple(AuditedEffect(**fact) for fact in facts["shown"]), own)
