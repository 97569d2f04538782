"""A firm in a pool: what is its own in the forecast, beside what it borrows from the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from models.drift_scan import Drift
from models.quote.base.conformal import ConformalDistribution
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import TargetModel
from models.quote.estimator.boosted import Boosted
from models.quote.estimator.second_day import SecondDay, learn_second_day

if TYPE_CHECKING:
    from models.quote.base.past_jobs import History
    from models.quote.estimator.fit_target import Learned


@dataclass(frozen=True, slots=True, eq=False)
class FirmCalibration:
    """One firm of a pool: its finished jobs, the targets with ranges of its own, how its days ended."""

    jobs: int
    targets: Mapping[Target, TargetModel]
    second_day: SecondDay


def firms_of(past: History) -> NDArray[np.str_]:
    """Whose job each of the past jobs (n,) was."""
    return np.asarray(past.frame["firm_id"].astype(str), dtype=str)


def firm_calibrations(past: History, learned: Mapping[Target, Learned]) -> dict[str, FirmCalibration]:
    """Every firm of the pool by its id; empty for a book of one firm."""
    firms = firms_of(past)
    names = np.unique(firms)
    if len(names) < 2:
        return {}
    minutes, second = past.targets["site_minutes"], past.second_day
    pooled = learn_second_day(minutes, second).ended
    found = {}
    for name in names.tolist():
        mine = firms == name
        ended = learn_second_day(minutes[mine], second[mine], pooled=pooled)
        found[name] = _own(learned, name, int(mine.sum()), ended)
    return found


def _own(learned: Mapping[Target, Learned], name: str, jobs: int, ended: SecondDay) -> FirmCalibration:
    targets = {t: learned[t].own[name].model for t in TARGETS if name in learned[t].own}
    return FirmCalibration(jobs, targets, ended)


def pack_firms(own: Mapping[str, FirmCalibration], arrays: dict[str, NDArray[Any]]) -> list[dict[str, Any]]:
    """The firms as facts; their ladders go into the arrays. Centres are the pool's but for their shift."""
    facts = []
    for i, (firm, one) in enumerate(own.items()):
        targets: dict[str, Any] = {}
        for target, model in one.targets.items():
            if not isinstance(model.placer, Boosted):
                raise TypeError(f"{type(model.placer).__name__} is no placer of a firm in a pool")
            arrays[f"own_{i}_{target}"] = model.ladder.scores
            targets[target] = {
                "shift": model.placer.shift,
                "tail_sd": model.ladder.tail_sd,
                "zero_mass": model.ladder.zero_mass,
                "jobs": model.jobs,
                "calibration_jobs": model.calibration_jobs,
                "drift": model.drift and model.drift.as_json(),
                "borrowed": model.borrowed,
            }
        arrays[f"own_{i}_ended"] = one.second_day.ended
        facts.append({"firm_id": firm, "jobs": one.jobs, "targets": targets})
    return facts


def unpack_firms(
    facts: list[dict[str, Any]], arrays: Mapping[str, NDArray[Any]], pooled: Mapping[Target, TargetModel]
) -> dict[str, FirmCalibration]:
    """The firms from their parts, on the pool's centres; KeyError when a part is missing."""
    found = {}
    for i, fact in enumerate(facts):
        targets = {}
        for target in TARGETS:
            if target in fact["targets"]:
                targets[target] = _target(pooled[target], fact["targets"][target], arrays[f"own_{i}_{target}"])
        second = SecondDay(arrays[f"own_{i}_ended"], arrays["ended"])
        found[fact["firm_id"]] = FirmCalibration(fact["jobs"], targets, second)
    return found


def _target(pooled: TargetModel, fact: Mapping[str, Any], scores: NDArray[Any]) -> TargetModel:
    if not isinstance(pooled.placer, Boosted):
        raise KeyError("shift")
    return replace(
        pooled,
        placer=replace(pooled.placer, shift=fact["shift"]),
        ladder=ConformalDistribution(scores, fact["tail_sd"], fact["zero_mass"]),
        jobs=fact["jobs"],
        calibration_jobs=fact["calibration_jobs"],
        drift=Drift.from_json(fact["drift"]) if fact["drift"] else None,
        borrowed=fact["borrowed"],
    )
