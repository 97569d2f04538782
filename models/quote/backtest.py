"""Back-test: what the quote would have said of later jobs, beside the simple peers, rolled forward in time.

Each step learns from the oldest jobs and is tested on newer ones. Model and peers see the same jobs and are calibrated
in the same way, on those jobs as forecast without them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.quantiles import LEVELS
from models.quote.base.past_jobs import History, history
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS, TargetSpec
from models.quote.estimator.fit_target import Learned, known_rows
from models.quote.estimator.groups import groups_of
from models.quote.estimator.peers import PEERS, calibrated_peer
from models.quote.estimator.rules import BOOSTED_FROM
from models.quote.learn import learn, nothing
from models.quote.model.firm_calibration import firms_of
from models.quote.outturn import Outturn, PriceInputs, Tried, outturns, tried
from models.scores import Coverage, coverage_of_pit, median_interval, pinball, pit_histogram
from models.splits import interleaved, rolling_folds
from pipeline.contract.findings import Finding

Floats = NDArray[np.float64]
Index = NDArray[np.intp]

FOLDS = 3
"""Steps in which the newer half of the jobs is tested."""

_LAST = 50
_MIDDLE = list(LEVELS).index("p50")


@dataclass(frozen=True, slots=True)
class FoldScores:
    """Scores of one rolling origin: the jobs visited `tested_from`..`tested_to`, forecast from all jobs before them.

    Losses and bias as in `TargetScores`, over these jobs alone. `recalibrated`: the newest jobs before them had
    drifted, so that the ranges rested on those alone.
    """

    tested_from: date
    tested_to: date
    jobs: int
    pinball: float
    peers: Mapping[str, float]
    coverage_80: float
    median_bias: float
    recalibrated: bool = False

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        days = {name: getattr(self, name).isoformat() for name in ("tested_from", "tested_to")}
        return {**asdict(self), **days}

    @classmethod
    def from_json(cls, plain: Mapping[str, Any]) -> FoldScores:
        """The scores as `as_json` gave them."""
        days = {name: date.fromisoformat(plain[name]) for name in ("tested_from", "tested_to")}
        return cls(**{**plain, **days})


@dataclass(frozen=True, slots=True)
class TargetScores:
    """Scores of one target over `jobs` tested jobs.

    Pinball losses are means over the seven levels, in `unit`; `better_share` is 1 − model / best peer.
    Coverage counts ties at 0 kg at random (see `coverage_of_pit`). `median_bias` is the median of
    observed − p50 over the newest 50 tested jobs, in `unit`, `bias_interval` its 95 % interval. `folds_scores` has one
    entry a fold, oldest first.
    """

    target: Target
    unit: str
    jobs: int
    folds: int
    pinball: float
    peers: Mapping[str, float]
    best_peer: str
    better_share: float
    coverage: Coverage
    groups: Mapping[str, Coverage]
    pit: tuple[int, ...]
    median_bias: float
    folds_scores: tuple[FoldScores, ...] = ()
    bias_interval: tuple[float, float] | None = None

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {**asdict(self), "folds_scores": [fold.as_json() for fold in self.folds_scores]}

    @classmethod
    def from_json(cls, plain: Mapping[str, Any]) -> TargetScores:
        """The scores as `as_json` gave them; those kept by an earlier version have no folds."""
        groups = {name: Coverage(**cover) for name, cover in plain["groups"].items()}
        folds = tuple(FoldScores.from_json(fold) for fold in plain.get("folds_scores", ()))
        made = {"coverage": Coverage(**plain["coverage"]), "groups": groups, "pit": tuple(plain["pit"])}
        bias = plain.get("bias_interval")
        return cls(**{**plain, **made, "folds_scores": folds, "bias_interval": bias and tuple(bias)})


@dataclass(frozen=True, slots=True)
class BackTest:
    """Scores by target; targets with too few jobs are missing, and a finding says so.

    `acted_on` holds what an owner acts on, told and come; empty where no prices were made.
    """

    jobs: int
    targets: Mapping[Target, TargetScores]
    findings: tuple[Finding, ...] = field(default=())
    acted_on: tuple[Outturn, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {
            "jobs": self.jobs,
            "targets": {name: scores.as_json() for name, scores in self.targets.items()},
            "findings": [finding.as_dict() for finding in self.findings],
            "acted_on": [each.as_json() for each in self.acted_on],
        }

    @classmethod
    def from_json(cls, plain: Mapping[str, Any]) -> BackTest:
        """The back-test as `as_json` gave it."""
        targets = {name: TargetScores.from_json(scores) for name, scores in plain["targets"].items()}
        findings = tuple(Finding(**finding) for finding in plain["findings"])
        return cls(plain["jobs"], targets, findings, tuple(Outturn(**each) for each in plain.get("acted_on", ())))


def backtest(
    features: pd.DataFrame, outcomes: pd.DataFrame, *, inputs: PriceInputs | None = None, seed: int = 0
) -> BackTest:
    """Scores of the quote on past jobs: frames as `ftr_quote` and `ftr_outcome`; with `inputs` also of its prices."""
    return backtest_history(history(features, outcomes), seed=seed, inputs=inputs)


def backtest_history(
    past: History, *, seed: int = 0, inputs: PriceInputs | None = None, progress: Callable[[], None] = nothing
) -> BackTest:
    """The same, of jobs already joined; `progress` is told after each target of each step."""
    tested: dict[Target, list[_Tested]] = {target: [] for target in TARGETS}
    tries: list[Tried] = []
    asked = [t for t in TARGETS if np.isfinite(past.targets[t]).sum() >= 2 * BOOSTED_FROM]
    folds = rolling_folds(past.days, folds=FOLDS) if asked and len(np.unique(past.days)) > 1 else []
    for fold in folds:
        model, learned = learn(past.at(fold.before), seed, progress)
        for target in asked:
            if (found := _test(past, SPECS[target], fold.before, fold.test, learned[target], seed)) is not None:
                tested[target].append(found)
        if inputs is not None:
            tries.append(tried(model, past, fold.before, fold.test, inputs))
    scores = {target: _summary(past, SPECS[target], steps) for target, steps in tested.items() if steps}
    findings = tuple(_too_few(past, target) for target in TARGETS if target not in scores)
    acted_on = outturns(past, tries, inputs) if tries and inputs is not None else ()
    return BackTest(len(past), scores, findings, acted_on)


@dataclass(frozen=True, slots=True, eq=False)
class _Tested:
    """One step's tested jobs: rows, observed, quantiles (n, 7), PIT (n,), pinball by peer (n,), its scores."""

    rows: NDArray[np.intp]
    observed: Floats
    quantiles: Floats
    pit: Floats
    peers: Mapping[str, Floats]
    scores: FoldScores


def _test(past: History, spec: TargetSpec, before: Index, later: Index, learned: Learned, seed: int) -> _Tested | None:
    y, firms = past.targets[spec.target], firms_of(past)
    before, test = known_rows(y, before), known_rows(y, later)
    if len(before) < BOOSTED_FROM or len(np.unique(past.days[before])) < 2 or len(test) == 0:
        return None
    levels = list(LEVELS.values())
    x, observed = past.x[test], y[test]
    draws = np.random.default_rng(seed).uniform(size=len(test))
    folds = interleaved(past.days[before])
    peers = {}
    for name in PEERS:
        peer = calibrated_peer(spec, name, past.x[before], y[before], folds)
        peers[name] = pinball(observed, peer.quantiles(x, levels), levels)
    quantiles, pit = np.empty((len(test), len(levels))), np.empty(len(test))
    for model, mine in learned.by_firm(firms[test]):
        quantiles[mine] = model.quantiles(x[mine], levels)
        pit[mine] = model.pit(x[mine], observed[mine], draws[mine])
    drift = learned.model.drift
    scores = FoldScores(
        tested_from=past.days[test].min().astype(object),
        tested_to=past.days[test].max().astype(object),
        jobs=len(test),
        pinball=float(pinball(observed, quantiles, levels).mean()),
        peers={name: float(loss.mean()) for name, loss in peers.items()},
        coverage_80=coverage_of_pit(pit).share_80,
        median_bias=float(np.median((observed - quantiles[:, _MIDDLE])[-_LAST:])),
        recalibrated=drift is not None and drift.recalibrated,
    )
    return _Tested(test, observed, quantiles, pit, peers, scores)


def _summary(past: History, spec: TargetSpec, tested: list[_Tested]) -> TargetScores:
    observed = np.concatenate([t.observed for t in tested])
    quantiles = np.concatenate([t.quantiles for t in tested])
    pit = np.concatenate([t.pit for t in tested])
    rows = np.concatenate([t.rows for t in tested])
    peers = {name: float(np.concatenate([t.peers[name] for t in tested]).mean()) for name in PEERS}
    best = min(peers, key=lambda name: peers[name])
    loss = float(pinball(observed, quantiles, list(LEVELS.values())).mean())
    newest = (observed - quantiles[:, _MIDDLE])[-_LAST:]
    return TargetScores(
        target=spec.target,
        unit=spec.unit,
        jobs=len(observed),
        folds=len(tested),
        pinball=loss,
        peers=peers,
        best_peer=best,
        better_share=1 - loss / peers[best],
        coverage=coverage_of_pit(pit),
        groups={name: coverage_of_pit(pit[mask]) for name, mask in groups_of(past.x[rows]).items()},
        pit=pit_histogram(pit),
        median_bias=float(np.median(newest)),
        folds_scores=tuple(t.scores for t in tested),
        bias_interval=median_interval(newest),
    )


def _too_few(past: History, target: Target) -> Finding:
    known = int(np.isfinite(past.targets[target]).sum())
    return Finding(
        "backtest_needs_more_jobs",
        f"The forecast of {target} is not back-tested yet: that takes about {2 * BOOSTED_FROM} finished jobs "
        f"with it on record; there are {known}.",
        {"target": target, "needed": 2 * BOOSTED_FROM, "found": known},
    )
