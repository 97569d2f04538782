"""Back-test: what the quote would have said of later jobs, beside the simple peers, rolled forward in time.

Each step fits on the oldest jobs, calibrates on newer ones and is tested on jobs newer still. Model and
peers see the same jobs and are calibrated in the same way.
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
from models.quote.estimator.fit_target import known_rows, learn_boosted, window_of
from models.quote.estimator.groups import groups_of
from models.quote.estimator.peers import PEERS, calibrated_peer
from models.quote.estimator.rules import BOOSTED_FROM
from models.quote.model.firm_calibration import firms_of
from models.scores import Coverage, coverage_of_pit, median_interval, pinball, pit_histogram
from models.splits import Fold, Window, rolling_folds
from pipeline.contract.findings import Finding

Floats = NDArray[np.float64]

LEAST_CALIBRATED = 19
"""Calibration jobs from which a 90 % interval comes from the scores themselves."""

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
    """Scores by target; targets with too few jobs are missing, and a finding says so."""

    jobs: int
    targets: Mapping[Target, TargetScores]
    findings: tuple[Finding, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {
            "jobs": self.jobs,
            "targets": {name: scores.as_json() for name, scores in self.targets.items()},
            "findings": [finding.as_dict() for finding in self.findings],
        }

    @classmethod
    def from_json(cls, plain: Mapping[str, Any]) -> BackTest:
        """The back-test as `as_json` gave it."""
        targets = {name: TargetScores.from_json(scores) for name, scores in plain["targets"].items()}
        return cls(plain["jobs"], targets, tuple(Finding(**finding) for finding in plain["findings"]))


def backtest(features: pd.DataFrame, outcomes: pd.DataFrame, *, seed: int = 0) -> BackTest:
    """Scores of the quote on past jobs: frames as `ftr_quote` and `ftr_outcome`."""
    return backtest_history(history(features, outcomes), seed=seed)


def backtest_history(past: History, *, seed: int = 0, progress: Callable[[Target], None] | None = None) -> BackTest:
    """The same, of jobs already joined; `progress` is told each target when it is done."""
    scores: dict[Target, TargetScores] = {}
    findings: list[Finding] = []
    for target in TARGETS:
        found = _score_target(past, SPECS[target], seed)
        if progress is not None:
            progress(target)
        if found is None:
            findings.append(_too_few(past, target))
        else:
            scores[target] = found
    return BackTest(len(past), scores, tuple(findings))


@dataclass(frozen=True, slots=True, eq=False)
class _Tested:
    """One step's tested jobs: rows, observed, quantiles (n, 7), PIT (n,), pinball by peer (n,), its scores."""

    rows: NDArray[np.intp]
    observed: Floats
    quantiles: Floats
    pit: Floats
    peers: Mapping[str, Floats]
    scores: FoldScores


def _score_target(past: History, spec: TargetSpec, seed: int) -> TargetScores | None:
    y = past.targets[spec.target]
    if np.isfinite(y).sum() < 2 * BOOSTED_FROM or len(np.unique(past.days)) < 2:
        return None
    tested = [t for f in rolling_folds(past.days) if (t := _test(past, spec, f, seed)) is not None]
    return _summary(past, spec, tested) if tested else None


def _test(past: History, spec: TargetSpec, fold: Fold, seed: int) -> _Tested | None:
    y = past.targets[spec.target]
    firms, test = firms_of(past), known_rows(y, fold.test)
    fit, later = (known_rows(y, rows) for rows in (fold.fit, fold.calibrate))
    if len(fit) + len(later) < BOOSTED_FROM or len(later) < LEAST_CALIBRATED or len(test) == 0:
        return None
    before = np.concatenate([fit, later])
    if len(np.unique(firms[before])) > 1:
        window = window_of(before, past.days, firms)
        fit, later = window.fit, window.calibrate
    learned = learn_boosted(spec, past.x, y, past.days, Window(fit, later), firms=firms, seed=seed)
    levels = list(LEVELS.values())
    x, observed = past.x[test], y[test]
    draws = np.random.default_rng(seed).uniform(size=len(test))
    peers = {}
    for name in PEERS:
        peer = calibrated_peer(spec, name, (past.x[fit], y[fit]), (past.x[later], y[later]))
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
