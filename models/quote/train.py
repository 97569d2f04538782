"""Train the quote from feature tables, score it on later jobs, and store it; `model.storage` loads it again."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.drift_scan import Drift
from models.quote.backtest import BackTest, backtest_history
from models.quote.base.past_jobs import History, history
from models.quote.base.quote_result import TARGETS, Method, Target
from models.quote.base.targets import SPECS, TYPICAL_EMITTERS
from models.quote.estimator.fit_target import Learned, learn_target
from models.quote.estimator.second_day import learn_second_day
from models.quote.explain.remarks import of_drift
from models.quote.explain.shapley import representative
from models.quote.model.extrapolation import Ranges
from models.quote.model.firm_calibration import firm_calibrations, firms_of
from models.quote.model.quote_model import QuoteModel, RecordSummary, pack
from models.quote.model.similar_jobs import neighbours
from models.quote.model.storage import FOLDER
from models.quote.offers.water_sample import sampled_rows
from models.quote.pricing.scenarios import joint_ranks
from models.store import save_model
from models.survey_features import POSITION

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]

_STEPS = 2 * len(TARGETS)


@dataclass(frozen=True, slots=True)
class TrainReport:
    """What was trained, on what, how well it did on later jobs, and whether the newest jobs have drifted.

    `drift` is None for a target with too few calibration jobs to check.
    """

    jobs: int
    window_from: date | None
    window_to: date | None
    simulated_share: float
    methods: Mapping[Target, Method]
    backtest: BackTest
    drift: Mapping[Target, Drift | None]
    data_fingerprint: str
    created: str
    seconds: float

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {
            "jobs": self.jobs,
            "window_from": self.window_from and self.window_from.isoformat(),
            "window_to": self.window_to and self.window_to.isoformat(),
            "simulated_share": self.simulated_share,
            "methods": dict(self.methods),
            "backtest": self.backtest.as_json(),
            "drift": {target: found and found.as_json() for target, found in self.drift.items()},
            "findings": [finding.as_dict() for finding in of_drift(self.drift)],
            "data_fingerprint": self.data_fingerprint,
            "created": self.created,
            "seconds": self.seconds,
        }


def train_quote(features: pd.DataFrame, outcomes: pd.DataFrame, *, seed: int = 0) -> QuoteModel:
    """The quote model from `ftr_quote` and `ftr_outcome`; no job at all gives the typical rule."""
    return _train(history(features, outcomes), seed, lambda: None)


def train_and_store(
    features: pd.DataFrame, outcomes: pd.DataFrame, folder: Path, progress: Progress | None = None, *, seed: int = 0
) -> TrainReport:
    """Train, back-test and store as `folder / "quote"`. `progress` is told (steps done, steps in all)."""
    started = time.perf_counter()
    done = 0

    def step() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(done, _STEPS)

    past = history(features, outcomes)
    model = _train(past, seed, step)
    scores = backtest_history(past, seed=seed, progress=lambda _: step())
    report = TrainReport(
        jobs=model.records.jobs,
        window_from=model.records.window_from,
        window_to=model.records.window_to,
        simulated_share=model.records.simulated_share,
        methods={target: one.method for target, one in model.targets.items()},
        backtest=scores,
        drift={target: one.drift for target, one in model.targets.items()},
        data_fingerprint=fingerprint(past),
        created=datetime.now(UTC).isoformat(timespec="seconds"),
        seconds=round(time.perf_counter() - started, 2),
    )
    save_model(folder / FOLDER, pack(model), {"model": "quote", "report": report.as_json()})
    return report


def fingerprint(past: History) -> str:
    """SHA-256 of the numbers trained on: keys, days, features, targets, in order of time."""
    digest = hashlib.sha256()
    keys = past.frame["firm_id"].astype(str) + "\t" + past.frame["job_id"].astype(str)
    digest.update("\n".join(keys).encode())
    for block in (past.days.astype("int64"), past.x, *(past.targets[t] for t in TARGETS)):
        digest.update(np.ascontiguousarray(block).tobytes())
    return digest.hexdigest()


def _train(past: History, seed: int, step: Callable[[], None]) -> QuoteModel:
    learned: dict[Target, Learned] = {}
    for target in TARGETS:
        learned[target] = learn_target(
            SPECS[target], past.x, past.targets[target], past.days, firms=firms_of(past), seed=seed
        )
        step()
    first, last = past.window
    own = firm_calibrations(past, learned)
    scores = np.column_stack([learned[target].scores for target in TARGETS])
    return QuoteModel(
        targets={target: one.model for target, one in learned.items()},
        background=_background(past, learned["magnetite_kg"]),
        ranks=joint_ranks(scores, seed=seed),
        neighbours=neighbours(past),
        ranges=Ranges.of(past.x),
        records=RecordSummary(len(past), first, last, past.simulated_share, max(len(own), 1)),
        second_day=learn_second_day(past, learned["site_minutes"]),
        seen=(past.x > 0).sum(axis=0).astype(float),
        sampled=sampled_rows(past.x),
        own=own,
    )


def _background(past: History, magnetite: Learned) -> Floats:
    """Representative jobs (b, p); without any, one ordinary system of which only the size is known."""
    if len(past) == 0:
        ordinary = np.full((1, past.x.shape[1]), np.nan)
        ordinary[0, POSITION["emitter_count"]] = TYPICAL_EMITTERS
        return ordinary
    return past.x[representative(magnetite.model.placer.place(past.x).centre)]
