"""Drift of the newest jobs: rarely found where there is none, found where it was planted, and mended."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from models import drift_scan as drift_module
from models.drift_scan import ALARM, LEAST, Drift, likeliest_cut
from models.quote.answer import answer
from models.quote.base.past_jobs import history
from models.quote.base.targets import SPECS
from models.quote.estimator.fit_target import learn_target
from models.quote.model.quote_model import QuoteModel
from models.quote.train import train_quote
from models.scores import covered
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted, Planter

Shifted = tuple[Planted, pd.DataFrame, QuoteModel]
"""Planted jobs, their outcomes after the shift, and the quote learnt from the older of them."""

CHECKS = 2000


@pytest.mark.parametrize("jobs", [50, 120, 400])
def test_false_alarms_are_as_rare_as_stated(jobs: int) -> None:
    rng = np.random.default_rng(jobs)

    # heavy tails and skewed: the law of ranks does not mind
    alarms = sum(likeliest_cut(rng.standard_t(2, jobs) ** 3).p <= ALARM for _ in range(CHECKS))
    half = sum(likeliest_cut(rng.normal(size=jobs)).p <= 0.5 for _ in range(200))

    assert half == pytest.approx(100, abs=25)  # the p-value itself is even: 3.5 standard errors
    # the threshold is the tenth largest of 3,999 random orders, and so known within a third; 99.9 % limits of the count
    assert binom.ppf(0.0005, CHECKS, 0.67 * ALARM) <= alarms <= binom.ppf(0.9995, CHECKS, 1.33 * ALARM)


def test_false_alarms_are_as_rare_where_many_jobs_gave_nothing() -> None:
    rng = np.random.default_rng(5)

    scores = np.maximum(rng.normal(size=(CHECKS, 100)), 0.3)  # six in ten at the floor

    assert sum(likeliest_cut(row).p <= ALARM for row in scores) <= binom.ppf(0.9995, CHECKS, 1.33 * ALARM)


@pytest.mark.parametrize(("level", "spread"), [(1.0, 1.0), (0.0, 2.5)])
def test_a_planted_cut_is_found_where_it_was_planted(level: float, spread: float) -> None:
    rng = np.random.default_rng(3)
    scores = rng.normal(size=200)
    scores[-70:] = level + spread * scores[-70:]

    cut = likeliest_cut(scores)

    assert cut is not None
    assert cut.p <= ALARM
    assert cut.window == pytest.approx(70, abs=20)


def test_statistic_of_a_cut_by_hand() -> None:
    # 50 scores in rising order have one cut, 25 and 25. Ranks 0..49: the newer half is 12.5 above the mean 24.5; the
    # variance of 50 ranks is 50·51/12 = 212.5, of a mean of 25 of them 212.5/25·(1 − 25/50) = 4.25; the spread is equal
    cut = likeliest_cut(np.arange(50.0))

    assert cut is not None
    assert (cut.window, cut.p) == (25, 1 / 4000)
    assert cut.statistic == pytest.approx(12.5**2 / 4.25)


def test_too_few_jobs_are_not_checked(planter: Planter) -> None:
    jobs = history(planter(49).features, planter(49).outcomes)
    few = learn_target(SPECS["flush_minutes"], jobs.x, jobs.targets["flush_minutes"], jobs.days)

    assert likeliest_cut(np.arange(2.0 * LEAST - 1)) is None
    assert few.model.drift is None


def heavier(planted: Planted, newest: int, factor: float) -> pd.DataFrame:
    """The outcomes with the magnetite of the newest jobs multiplied."""
    late = planted.features["job_id"].isin(planted.features["job_id"][-newest:]).to_numpy()
    kilos = planted.outcomes["magnetite_kg"]
    return planted.outcomes.assign(magnetite_kg=kilos.where(~late, kilos * factor))


@pytest.fixture(scope="module")
def shifted(planter: Planter) -> Shifted:
    """400 later jobs, and the quote learnt from 600 before them; magnetite is 40 % heavier in the newest 480 of all."""
    planted = planter(1000, seed=6)
    outcomes = heavier(planted, 480, 1.4)
    return planted, outcomes, train_quote(planted.features[:600], outcomes)


def test_a_shift_of_the_newest_jobs_is_said_in_the_quote(shifted: Shifted) -> None:
    planted, _, model = shifted
    drift, of_site = (model.targets[target].drift for target in ("magnetite_kg", "site_minutes"))
    assert drift is not None
    assert of_site is not None

    quote = answer(model, planted.features[600:601], planted.volumes, Firm())[0]

    assert drift.recalibrated
    assert drift.window == pytest.approx(80, abs=25)
    assert drift.level_factor == pytest.approx(1.4, rel=0.15)
    assert quote.basis.calibration_jobs == drift.window == model.targets["magnetite_kg"].calibration_jobs
    assert f"the newest {drift.window} jobs alone" in " ".join(finding.sentence for finding in quote.findings)
    assert not of_site.recalibrated


def test_coverage_is_restored_after_a_shift(shifted: Shifted) -> None:
    planted, outcomes, model = shifted
    later = planted.features[600:]
    observed = later.merge(outcomes, on=["firm_id", "job_id"])["magnetite_kg"].to_numpy()
    quotes = [quote.forecasts["magnetite_kg"].quantiles for quote in answer(model, later, planted.volumes, Firm())]

    inside = covered(observed, [q.p10 for q in quotes], [q.p90 for q in quotes]).mean()
    below = np.mean(observed < [q.p50 for q in quotes])

    # two standard errors of the jobs tested, and two of the coverage that some 80 calibration jobs give (Beta law)
    assert inside == pytest.approx(0.8, abs=2 * np.sqrt(0.16 / 400 + 0.16 / 80))
    assert below == pytest.approx(0.5, abs=2 * np.sqrt(0.25 / 400 + 0.25 / 80))


def test_without_the_check_the_middle_would_stay_too_low(shifted: Shifted, monkeypatch: pytest.MonkeyPatch) -> None:
    planted, outcomes, _ = shifted
    monkeypatch.setattr(drift_module, "ALARM", 0.0)
    jobs = history(planted.features, outcomes)
    y = jobs.targets["magnetite_kg"]

    model = learn_target(SPECS["magnetite_kg"], jobs.x[:600], y[:600], jobs.days[:600]).model

    assert np.mean(y[600:] < model.quantiles(jobs.x[600:], [0.5])[:, 0]) < 0.4


def test_a_check_is_the_same_after_a_trip_through_plain_data() -> None:
    drift = Drift(120, 60, date(2031, 3, 5), 21.5, 0.0005, 1.4, 0.9, recalibrated=True)

    assert Drift.from_json(drift.as_json()) == drift
