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

from models.drift_scan import Drift
from models.quote.backtest import FOLDS, BackTest, backtest_history
from models.quote.base.past_jobs import History, history
from models.quote.base.quote_result import TARGETS, Method, Target
from models.quote.explain.remarks import of_drift
from models.quote.learn import learn
from models.quote.model.quote_model import QuoteModel, pack
from models.quote.model.storage import FOLDER
from models.quote.outturn import PriceInputs
from models.store import save_model

Progress = Callable[[int, int], None]

_STEPS = (1 + FOLDS) * len(TARGETS)
"""What is learnt of each target: the model, and one for each step of the back-test."""


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
    return learn(history(features, outcomes), seed)[0]


def train_and_store(
    features: pd.DataFrame,
    outcomes: pd.DataFrame,
    folder: Path,
    progress: Progress | None = None,
    *,
    inputs: PriceInputs | None = None,
    seed: int = 0,
) -> TrainReport:
    """Train, back-test and store as `folder / "quote"`. `progress` is told (steps done, steps in all).

    With `inputs` the back-test also prices past jobs.
    """
    started = time.perf_counter()
    done = 0

    def step() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(done, _STEPS)

    past = history(features, outcomes)
    model, _ = learn(past, seed, step)
    scores = backtest_history(past, seed=seed, progress=step, inputs=inputs)
    while done < _STEPS:
        step()
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
