"""What was learnt from past jobs, on disk: numbers only, in the folder `catch` of a build's models."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.catch.posterior.cumulative_posterior import Pace
from models.catch.posterior.priors import EmitterPrior
from models.catch.posterior.ridge import Ridge
from models.catch.records.job import JobCatch
from models.catch.release_effects import ReleaseEffect, ReleaseEffects, release_effects, timed_weighings
from models.catch.stopping.landmark_features import KINDS, Kind, PlanForecast, features_of
from models.catch.stopping.stopping_model import CrewModel, Lines, Target
from models.catch.stopping.stopping_regression import PLAN_FEATURES, Prospect
from models.catch.stopping.train_stopping import Learnt, learn
from models.drift_scan import Drift
from models.quote.base.conformal import ConformalDistribution
from models.refusals import Refusal
from models.store import Stored, has_model, load_model, save_model
from pipeline.contract.findings import SludgebookError

FOLDER = "catch"
FORM = 8  # raised when what is stored is read in another way
Arrays = dict[str, NDArray[Any]]


def learn_and_store(
    jobs: Sequence[JobCatch],
    folder: Path,
    *,
    effects: ReleaseEffects | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Learnt | None:
    """Learn from finished jobs and store as `folder / "catch"`; None, and nothing stored, under 40 of them."""
    try:
        learnt = replace(learn(jobs, progress=progress), effects=effects)
    except Refusal:
        return None
    created = datetime.now(UTC).isoformat(timespec="seconds")
    save_model(folder / FOLDER, pack(learnt), {"model": "catch", "created": created, "jobs": learnt.jobs})
    return learnt


def load_catch(folder: Path | None) -> Learnt | None:
    """What is stored in a models folder; None where nothing is. SludgebookError when it is damaged."""
    if folder is None or not has_model(folder / FOLDER):
        return None
    try:
        return unpack(load_model(folder / FOLDER))
    except (KeyError, TypeError, IndexError, AttributeError, ValueError):
        raise SludgebookError(
            f"The model in {folder / FOLDER} is damaged or of an older form; run `sludgebook train` again."
        ) from None


def pack(learnt: Learnt) -> Stored:
    """As named arrays and plain facts."""
    arrays: Arrays = {}
    _put(arrays, "prospect.kg", learnt.prospect.kg)
    _put(arrays, "prospect.minutes", learnt.prospect.minutes)
    usual = learnt.prospect.usual
    arrays["prospect.usual"] = np.array([usual.log_kg, usual.log_minutes])
    prior = learnt.emitters
    facts: dict[str, Any] = {
        "form": FORM,
        "plan_features": list(PLAN_FEATURES),
        "pace": asdict(learnt.pace),
        "jobs": learnt.jobs,
        "window": [learnt.window_from.isoformat(), learnt.window_to.isoformat()],
        "crews": {},
        "changes": {name: check.as_json() for name, check in learnt.changes.items()},
        "emitters": None,
        "effects": None if learnt.effects is None else asdict(learnt.effects),
    }
    if prior is not None:
        _put(arrays, "emitters.line", prior.line)
        facts["emitters"] = {"house_sd": prior.house_sd, "own_sd": prior.own_sd, "emitters": prior.emitters}
    for kind, crew in learnt.crews.items():
        arrays[f"{kind}.weights"] = crew.weights
        facts["crews"][kind] = {"jobs": crew.jobs, "features": list(crew.kg.lines.features)}
        for name, target in (("kg", crew.kg), ("minutes", crew.minutes)):
            facts["crews"][kind][name] = _put_target(arrays, f"{kind}.{name}", target)
    return Stored(arrays=arrays, facts=facts)


def unpack(stored: Stored) -> Learnt:
    """The other way round; KeyError or TypeError where a part is missing or of an older form."""
    arrays, facts = stored.arrays, stored.facts
    if facts["form"] != FORM or facts["plan_features"] != list(PLAN_FEATURES):
        raise TypeError("of another form")
    pace, prior = Pace(**facts["pace"]), facts["emitters"]
    first, last = (date.fromisoformat(day) for day in facts["window"])
    return Learnt(
        pace=pace,
        emitters=None if prior is None else EmitterPrior(line=_get(arrays, "emitters.line"), pace=pace, **prior),
        prospect=Prospect(
            _get(arrays, "prospect.kg"),
            _get(arrays, "prospect.minutes"),
            PlanForecast(*arrays["prospect.usual"].tolist()),
        ),
        crews={kind: _crew(arrays, kind, facts["crews"][kind]) for kind in KINDS if kind in facts["crews"]},
        jobs=facts["jobs"],
        window_from=first,
        window_to=last,
        changes={name: Drift.from_json(check) for name, check in facts["changes"].items()},
        effects=_effects(facts["effects"]),
    )


def effects_of(catch_curve: pd.DataFrame, readings: pd.DataFrame) -> ReleaseEffects | None:
    """Effects of heat and flow within jobs, from `ftr_catch_curve` and `readings`; None where they cannot be told."""
    try:
        return release_effects(timed_weighings(catch_curve, readings))
    except Refusal:
        return None


def _effects(facts: Mapping[str, Any] | None) -> ReleaseEffects | None:
    if facts is None:
        return None
    return ReleaseEffects(**{**facts, "effects": tuple(ReleaseEffect(**each) for each in facts["effects"])})


def _crew(arrays: Mapping[str, NDArray[Any]], kind: Kind, facts: Mapping[str, Any]) -> CrewModel:
    names = tuple(facts["features"])
    if names != features_of(kind):
        raise TypeError("of other features")
    kg, minutes = (_get_target(arrays, f"{kind}.{name}", facts[name], names) for name in ("kg", "minutes"))
    return CrewModel(arrays[f"{kind}.weights"], kg, minutes, facts["jobs"])


def _put_target(arrays: Arrays, name: str, target: Target) -> dict[str, Any]:
    """Puts the arrays of a target and returns its facts."""
    _put(arrays, f"{name}.line", target.lines.line)
    _put(arrays, f"{name}.spread", target.lines.spread)
    arrays |= {f"{name}.low": target.lines.low, f"{name}.high": target.lines.high, f"{name}.edges": target.edges}
    arrays |= {f"{name}.scores.{i}": ladder.scores for i, ladder in enumerate(target.ladders)}
    tails = [ladder.tail_sd for ladder in target.ladders]
    return {"tail_sd": tails, "eps": target.eps, "calibration_jobs": target.calibration_jobs}


def _get_target(
    arrays: Mapping[str, NDArray[Any]], name: str, facts: Mapping[str, Any], features: tuple[str, ...]
) -> Target:
    lines = Lines(
        features,
        _get(arrays, f"{name}.line"),
        _get(arrays, f"{name}.spread"),
        arrays[f"{name}.low"],
        arrays[f"{name}.high"],
    )
    found = (ConformalDistribution(arrays[f"{name}.scores.{i}"], tail) for i, tail in enumerate(facts["tail_sd"]))
    return Target(lines, tuple(found), arrays[f"{name}.edges"], facts["eps"], facts["calibration_jobs"])


def _put(arrays: Arrays, name: str, ridge: Ridge) -> None:
    arrays[f"{name}.intercept"] = np.array([ridge.intercept])
    for part in ("usual", "weights", "flags"):
        arrays[f"{name}.{part}"] = getattr(ridge, part)


def _get(arrays: Mapping[str, NDArray[Any]], name: str) -> Ridge:
    return Ridge(
        float(arrays[f"{name}.intercept"][0]), *(arrays[f"{name}.{part}"] for part in ("usual", "weights", "flags"))
    )
