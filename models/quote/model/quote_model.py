"""The quote model as one frozen object, and its parts as arrays and facts for the store."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.drift_scan import Drift
from models.quote.base.conformal import ConformalDistribution
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS, LocationScaleModel, TargetModel
from models.quote.estimator.boosted import Boosted
from models.quote.estimator.engineer_effects import Crews
from models.quote.estimator.ridge_on_log import Line
from models.quote.estimator.rules import PerEmitter
from models.quote.estimator.second_day import SecondDay
from models.quote.estimator.trees import Forest, Trees
from models.quote.model.callback_inputs import Returns
from models.quote.model.extrapolation import Ranges
from models.quote.model.firm_calibration import FirmCalibration, pack_firms, unpack_firms
from models.quote.model.similar_jobs import Neighbours
from models.store import Stored
from models.survey_features import FEATURE_NAMES
from pipeline.contract.findings import SludgebookError

Floats = NDArray[np.float64]

_FORM = 4
"""Raised whenever what is stored is read in another way."""

_LINE = ("usual", "weights", "flags", "low", "high")
"""Arrays of a line, in its own order."""


@dataclass(frozen=True, slots=True)
class RecordSummary:
    """The records behind a model: finished jobs, first and last visit, share made by the simulator.

    They are of `firms` firms. Of several, a model that speaks for one names it and how many of the jobs are its own.
    """

    jobs: int
    window_from: date | None
    window_to: date | None
    simulated_share: float
    firms: int = 1
    firm_id: str | None = None
    own_jobs: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class QuoteModel:
    """Everything a quote needs, besides the request and the firm's settings.

    `background` (b, p) are the representative jobs of the reasons; `ranks` (s, 4) the joint scenarios;
    `seen` (p,) counts the past jobs with each feature above 0, a choice's being those that made it; `sampled`
    (d, p) are past jobs whose water was known; `returns` what the book tells of return visits. In a book of several
    firms `own` holds what is each one's own; `of_firm` makes the model that speaks for it.
    """

    targets: Mapping[Target, TargetModel]
    background: Floats
    ranks: Floats
    neighbours: Neighbours
    ranges: Ranges
    records: RecordSummary
    second_day: SecondDay
    seen: Floats
    sampled: Floats
    own: Mapping[str, FirmCalibration] = field(default_factory=dict)
    returns: Returns | None = None

    def of_firm(self, firm_id: str) -> QuoteModel:
        """The model for one firm's requests: in a pool with its own ranges where it has them, else all firms'."""
        if not self.own:
            return self
        own, returns = self.own.get(firm_id), self.returns and self.returns.of_firm(firm_id)
        if own is None:
            return replace(self, records=replace(self.records, firm_id=firm_id), returns=returns)
        return replace(
            self,
            returns=returns,
            targets={**self.targets, **own.targets},
            second_day=own.second_day,
            records=replace(self.records, firm_id=firm_id, own_jobs=own.jobs),
        )


def pack(model: QuoteModel) -> Stored:
    """The model as named arrays and facts; its trees are arrays too, no library is needed to read them."""
    arrays: dict[str, NDArray[Any]] = {
        "background": model.background,
        "ranks": model.ranks,
        "seen": model.seen,
        "sampled": model.sampled,
        "range_low": model.ranges.low,
        "range_high": model.ranges.high,
        "ended": model.second_day.ended,
    }
    arrays |= {f"near_{name}": getattr(model.neighbours, name) for name in Neighbours.__slots__}
    facts: dict[str, Any] = {
        "records": _records_as_plain(model.records),
        "form": _FORM,
        "features": list(FEATURE_NAMES),
        "targets": {},
        "firms": pack_firms(model.own, arrays),
    }
    for target, one in model.targets.items():
        arrays[f"{target}_ladder"] = one.ladder.scores
        facts["targets"][target] = {
            "method": one.method,
            "jobs": one.jobs,
            "calibration_jobs": one.calibration_jobs,
            "tail_sd": one.ladder.tail_sd,
            "zero_mass": one.ladder.zero_mass,
            "placer": _pack_placer(target, one.placer, arrays),
            "drift": one.drift and one.drift.as_json(),
        }
    return Stored(arrays=arrays, facts=facts)


def unpack(stored: Stored) -> QuoteModel:
    """The model from its parts; KeyError when a part is missing, SludgebookError where it is of an older form or knows
    other answers."""
    arrays, facts = stored.arrays, stored.facts
    if facts.get("form") != _FORM:
        raise SludgebookError("The quote model is of an older form; run `sludgebook train` again.")
    if facts.get("features") != list(FEATURE_NAMES):
        raise SludgebookError(
            "The quote model was trained on other answers than are asked for now; run `sludgebook train` again."
        )
    targets: dict[Target, TargetModel] = {}
    for target in TARGETS:
        fact = facts["targets"][target]
        targets[target] = TargetModel(
            SPECS[target],
            _unpack_placer(target, fact["placer"], stored),
            ConformalDistribution(arrays[f"{target}_ladder"], fact["tail_sd"], fact.get("zero_mass", 0.0)),
            fact["method"],
            fact["jobs"],
            fact["calibration_jobs"],
            Drift.from_json(fact["drift"]) if fact.get("drift") else None,
        )
    near = Neighbours(**{name: arrays[f"near_{name}"] for name in Neighbours.__slots__})
    ranges = Ranges(arrays["range_low"], arrays["range_high"])
    records = _records_from_plain(facts["records"])
    second = SecondDay(arrays["ended"])
    background, ranks = arrays["background"], arrays["ranks"]
    own = unpack_firms(facts.get("firms", []), arrays, targets)
    return QuoteModel(targets, background, ranks, near, ranges, records, second, arrays["seen"], arrays["sampled"], own)


def _pack_placer(target: Target, placer: LocationScaleModel, arrays: dict[str, NDArray[Any]]) -> dict[str, float]:
    if isinstance(placer, PerEmitter):
        return {"fixed": placer.fixed, "rate": placer.rate, "offset": placer.offset, "shift": placer.shift}
    if not isinstance(placer, Boosted):
        raise TypeError(f"{type(placer).__name__} is no placer of the quote model")
    for name, trees in (("trees", placer.trees), ("spread", placer.spread)):
        if trees is not None:
            arrays[f"{target}_{name}_columns"] = trees.columns
            arrays |= {f"{target}_{name}_{part}": values for part, values in trees.forest.arrays().items()}
    for name in _LINE:
        arrays[f"{target}_line_{name}"] = getattr(placer.line, name)
    arrays |= {f"{target}_crew_codes": placer.crews.codes, f"{target}_crew_effects": placer.crews.effects}
    return {
        "intercept": placer.line.intercept,
        "unnamed": placer.crews.unnamed,
        "usual_error": placer.usual_error,
        "shift": placer.shift,
    }


def _unpack_placer(target: Target, fact: Mapping[str, float], stored: Stored) -> LocationScaleModel:
    if "rate" in fact:
        return PerEmitter(fact["fixed"], fact["rate"], fact["offset"], fact["shift"])
    arrays = stored.arrays
    line = Line(fact["intercept"], *(arrays[f"{target}_line_{name}"] for name in _LINE))
    crews = Crews(arrays[f"{target}_crew_codes"], arrays[f"{target}_crew_effects"], fact["unnamed"])
    trees, spread = (_unpack_trees(f"{target}_{name}", stored) for name in ("trees", "spread"))
    return Boosted(line, crews, trees, spread, fact["usual_error"], fact["shift"])


def _unpack_trees(name: str, stored: Stored) -> Trees | None:
    if f"{name}_columns" not in stored.arrays:
        return None
    parts = {part: stored.arrays[f"{name}_{part}"] for part in Forest.__slots__}
    return Trees(Forest.from_arrays(parts), stored.arrays[f"{name}_columns"])


def _records_as_plain(records: RecordSummary) -> dict[str, Any]:
    return {
        "jobs": records.jobs,
        "window_from": records.window_from and records.window_from.isoformat(),
        "window_to": records.window_to and records.window_to.isoformat(),
        "simulated_share": records.simulated_share,
        "firms": records.firms,
    }


def _records_from_plain(fact: Mapping[str, Any]) -> RecordSummary:
    first, last = (
        None if fact[name] is None else date.fromisoformat(fact[name]) for name in ("window_from", "window_to")
    )
    return RecordSummary(fact["jobs"], first, last, fact["simulated_share"], fact.get("firms", 1))
