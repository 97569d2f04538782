"""Everything that a quote needs, learnt from past jobs; `train` keeps it, `backtest` tries it on later jobs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from models.quote.base.past_jobs import History
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS, TYPICAL_EMITTERS
from models.quote.estimator.fit_target import Learned, learn_target
from models.quote.estimator.second_day import learn_second_day
from models.quote.explain.shapley import representative
from models.quote.model.extrapolation import Ranges
from models.quote.model.firm_calibration import firm_calibrations, firms_of
from models.quote.model.quote_model import QuoteModel, RecordSummary
from models.quote.model.similar_jobs import neighbours
from models.quote.offers.water_sample import sampled_rows
from models.quote.pricing.scenarios import joint_ranks
from models.survey_features import POSITION

Floats = NDArray[np.float64]


def nothing() -> None:
    """No one is told."""


def learn(past: History, seed: int, step: Callable[[], None] = nothing) -> tuple[QuoteModel, dict[Target, Learned]]:
    """The model of n past jobs, and what was learnt of each target; `step` is told after each of them."""
    learned: dict[Target, Learned] = {}
    for target in TARGETS:
        learned[target] = learn_target(
            SPECS[target], past.x, past.targets[target], past.days, firms=firms_of(past), seed=seed
        )
        step()
    first, last = past.window
    own = firm_calibrations(past, learned)
    scores = np.column_stack([learned[target].scores for target in TARGETS])
    model = QuoteModel(
        targets={target: one.model for target, one in learned.items()},
        background=_background(past, learned["magnetite_kg"]),
        ranks=joint_ranks(scores, seed=seed),
        neighbours=neighbours(past),
        ranges=Ranges.of(past.x),
        records=RecordSummary(len(past), first, last, past.simulated_share, max(len(own), 1)),
        second_day=learn_second_day(past.targets["site_minutes"], past.second_day),
        seen=(past.x > 0).sum(axis=0).astype(float),
        sampled=sampled_rows(past.x),
        own=own,
    )
    return model, learned


def _background(past: History, magnetite: Learned) -> Floats:
    """Representative jobs (b, p); without any, one ordinary system of which only the size is known."""
    if len(past) == 0:
        ordinary = np.full((1, past.x.shape[1]), np.nan)
        ordinary[0, POSITION["emitter_count"]] = TYPICAL_EMITTERS
        return ordinary
    return past.x[representative(magnetite.model.placer.place(past.x).centre)]
