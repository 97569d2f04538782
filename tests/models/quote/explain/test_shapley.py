"""Reasons: exact Shapley values, held against re-running the model for every set of groups."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from models.quote.base.past_jobs import History, history
from models.quote.base.targets import SPECS, TargetModel
from models.quote.estimator.fit_target import learn_target
from models.quote.estimator.leaves import GROUP_NAMES, GROUP_OF
from models.quote.estimator.rules import per_emitter_rule, typical_rule
from models.quote.explain.shapley import explain, representative
from tests.models.quote.conftest import Planted


@pytest.fixture(scope="module")
def jobs(past: Planted) -> History:
    return history(past.features, past.outcomes)


@pytest.fixture(scope="module")
def model(jobs: History) -> TargetModel:
    return learn_target(SPECS["magnetite_kg"], jobs.x, jobs.targets["magnetite_kg"], jobs.days).model


def _by_running(model: TargetModel, request: np.ndarray, background: np.ndarray) -> np.ndarray:
    """Shapley values by their definition: mean gain over all 120 orders of revealing the groups."""

    def value(chosen: frozenset[int]) -> float:
        mixed = np.where(np.isin(GROUP_OF, list(chosen)), request, background)
        return float(model.quantiles(mixed, [0.5]).mean())

    amounts = np.zeros(len(GROUP_NAMES))
    orders = list(permutations(range(len(GROUP_NAMES))))
    known: dict[frozenset[int], float] = {}
    for order in orders:
        seen: frozenset[int] = frozenset()
        for group in order:
            for each in (seen, seen | {group}):
                known.setdefault(each, value(each)) if each not in known else None
            amounts[group] += (known[seen | {group}] - known[seen]) / len(orders)
            seen |= {group}
    return amounts


def test_amounts_equal_the_definition_run_through_the_model(jobs: History, model: TargetModel) -> None:
    background = jobs.x[representative(np.arange(len(jobs.x), dtype=float), 12)]

    found = explain(model, jobs.x[:2], background)

    for row in (0, 1):
        assert found.amounts[row] == pytest.approx(_by_running(model, jobs.x[row], background), abs=1e-9)


def test_usual_plus_amounts_is_the_median_forecast(jobs: History, model: TargetModel) -> None:
    found = explain(model, jobs.x[:300], jobs.x[:48])

    median = model.quantiles(jobs.x[:300], [0.5])[:, 0]
    assert found.usual + found.amounts.sum(axis=1) == pytest.approx(median, abs=1e-9)
    assert found.usual == pytest.approx(model.quantiles(jobs.x[:48], [0.5]).mean())


def test_a_background_job_alone_has_no_reasons_against_itself(jobs: History, model: TargetModel) -> None:
    assert explain(model, jobs.x[:1], jobs.x[:1]).amounts == pytest.approx(np.zeros((1, 5)), abs=1e-12)


def test_the_age_planted_as_a_cause_moves_the_forecast_by_history(jobs: History, model: TargetModel) -> None:
    found = explain(model, jobs.x, jobs.x[:48])
    since = jobs.frame["years_since_clean"].to_numpy()
    history_kg = found.amounts[:, GROUP_NAMES.index("age and history")]

    assert history_kg[since > 35].mean() > 0.3
    assert history_kg[since < 8].mean() < -0.1


@pytest.mark.parametrize("kind", ["typical", "per_emitter"])
def test_a_rule_gives_size_as_its_only_reason(jobs: History, kind: str) -> None:
    spec = SPECS["magnetite_kg"]
    y = jobs.targets["magnetite_kg"][:12]
    model = typical_rule(spec) if kind == "typical" else per_emitter_rule(spec, jobs.x[:12], y)

    found = explain(model, jobs.x[:20], jobs.x[:12])

    assert np.all(found.amounts[:, 1:] == 0)
    median = model.quantiles(jobs.x[:20], [0.5])[:, 0]
    assert found.usual + found.amounts[:, 0] == pytest.approx(median)


def test_representative_jobs_run_from_little_to_much() -> None:
    forecast = np.random.default_rng(0).permutation(960).astype(float)

    rows = representative(forecast)

    assert len(rows) == 48
    assert forecast[rows].tolist() == [10.0 + 20 * i for i in range(48)]
