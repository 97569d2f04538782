"""The boosted forecast on planted jobs: never less sludge for more house, scale learnt, leaves add up."""

from __future__ import annotations

import numpy as np
import pytest

from models.quote.base.conformal import PERCENTS
from models.quote.base.past_jobs import History, history
from models.quote.base.targets import SPECS, TargetModel
from models.quote.estimator.boosted import LEAST_GAIN, fit_boosted, gain
from models.quote.estimator.fit_target import learn_target
from models.quote.estimator.leaves import GROUP_NAMES, baseline, leaves
from models.quote.estimator.rules import BOOSTED_FROM
from models.splits import interleaved
from models.survey_features import POSITION
from tests.models.quote.conftest import Planted


@pytest.fixture(scope="module")
def jobs(past: Planted) -> History:
    return history(past.features, past.outcomes)


@pytest.fixture(scope="module")
def magnetite(jobs: History) -> TargetModel:
    return learn_target(SPECS["magnetite_kg"], jobs.x, jobs.targets["magnetite_kg"], jobs.days).model


def test_each_job_is_forecast_by_a_model_that_had_not_seen_it(jobs: History) -> None:
    """What a job gave moves the forecasts of jobs in other folds, and of none in its own."""
    spec, x, y = SPECS["magnetite_kg"], jobs.x[:150], jobs.targets["magnetite_kg"][:150]
    folds, more = interleaved(jobs.days[:150]), y.copy()
    more[40] *= 1.2

    before, after = (fit_boosted(spec, x, amounts, folds) for amounts in (y, more))

    own = folds == folds[40]
    assert np.array_equal(before.centre[own], after.centre[own])
    assert np.mean(before.centre[~own] != after.centre[~own]) > 0.9
    assert not np.array_equal(before.fitted.centre(x[own]), after.fitted.centre(x[own]))


def test_scores_of_folds_are_narrowed_by_what_a_fifth_more_jobs_bring() -> None:
    """By hand: the folds err 0.20 on jobs they had not seen and 0.156 on all, the forecast of all jobs 0.150: what it
    errs on new jobs is 0.20 + 0.150 − 0.156. It never widens, and never narrows by more than a fifth."""
    assert gain(0.20, 0.156, 0.150) == pytest.approx(0.194 / 0.20)
    assert gain(0.20, 0.15, 0.16) == 1.0
    assert gain(0.20, 0.30, 0.10) == LEAST_GAIN
    assert gain(0.0, 0.0, 0.0) == 1.0


def test_the_factor_is_what_more_jobs_bring_where_it_is_known() -> None:
    """Ordinary least squares with p columns of noise: new jobs err by σ·√(1 + p/(n − p − 1)) with n jobs, so a fifth
    more bring √((1 + p/(n − p − 1)) / (1 + p/(0.8·n − p − 1))) (normal columns, exact)."""
    rng, n, p, found = np.random.default_rng(2), 200, 30, []
    for _ in range(40):
        x, z, fold = rng.standard_normal((n, p)), rng.standard_normal(n), np.arange(n) % 5
        fits = [np.linalg.lstsq(x[fold != k], z[fold != k], rcond=None)[0] for k in range(5)]
        whole = np.linalg.lstsq(x, z, rcond=None)[0]
        unseen = np.mean([np.abs(z - x @ fits[k])[fold == k].mean() for k in range(5)])
        on_all = np.mean([np.abs(z - x @ each).mean() for each in fits])
        found.append(gain(float(unseen), float(on_all), float(np.abs(z - x @ whole).mean())))

    right = np.sqrt((1 + p / (n - p - 1)) / (1 + p / (0.8 * n - p - 1)))
    assert right < 0.98
    assert np.mean(found) == pytest.approx(right, abs=0.01)


@pytest.mark.parametrize("name", [n for n in SPECS["magnetite_kg"].rising if n != "mean_emitter_length_mm"])
def test_more_of_what_corrodes_never_lowers_the_median(jobs: History, magnetite: TargetModel, name: str) -> None:
    x = jobs.x[:200].copy()
    x[:, POSITION[name]] = np.nan_to_num(x[:, POSITION[name]], nan=1.0)
    before = magnetite.quantiles(x, [0.5])
    for more in (1.0, 5.0, 40.0):
        y = x.copy()
        y[:, POSITION[name]] += more

        assert np.all(magnetite.quantiles(y, [0.5]) >= before - 1e-12)


def test_quantiles_never_cross_even_far_outside_the_records(jobs: History, magnetite: TargetModel) -> None:
    x = jobs.x[:50] * np.array([[0.0], [1.0], [30.0], [-2.0], [np.nan]] * 10)

    assert np.all(np.diff(magnetite.quantiles(x, PERCENTS), axis=1) >= 0)
    assert np.all(magnetite.quantiles(x, [0.01]) >= 0)


def test_the_scale_is_larger_where_jobs_were_planted_harder(jobs: History, magnetite: TargetModel) -> None:
    # planted spread on the log scale: 0.6 open-vented, 0.2 sealed
    scale = magnetite.placer.place(jobs.x).scale
    vented = jobs.x[:, POSITION["system_type=open_vented"]] == 1

    assert np.median(scale[vented]) > 1.7 * np.median(scale[~vented])


def test_leaves_add_up_to_the_forecast_of_scikit_learn(jobs: History, magnetite: TargetModel) -> None:
    trees = magnetite.placer.trees  # type: ignore[attr-defined]
    found = leaves(trees, jobs.x[:100])

    total = baseline(trees) + found.values @ found.reached(list(range(len(GROUP_NAMES))))

    assert total == pytest.approx(trees.predict(jobs.x[:100]), abs=1e-12)


def test_the_method_changes_at_forty_jobs_with_the_target_known(jobs: History) -> None:
    y = jobs.targets["magnetite_kg"].copy()
    methods = {}
    for known in (0, 1, BOOSTED_FROM - 1, BOOSTED_FROM):
        some = np.where(np.arange(len(y)) < known, y, np.nan)
        model = learn_target(SPECS["magnetite_kg"], jobs.x, some, jobs.days).model
        methods[known] = (model.method, model.jobs)

    assert methods[0] == ("typical_rule", 0)
    assert methods[1] == ("per_emitter_rule", 1)
    assert methods[39] == ("per_emitter_rule", 39)
    assert methods[40] == ("boosted", 40)
