"""Forecasts of a young book: common practice first, then the firm's own jobs, wide until they narrow it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from models.quote.answer import answer
from models.quote.base.targets import SPECS
from models.quote.estimator.rules import per_emitter_rule, typical_rule
from models.quote.without_records import model_without_records
from models.survey_features import FEATURES, POSITION
from pipeline.contract import BUILT
from pipeline.contract.firm import Firm

SPEC = SPECS["magnetite_kg"]


def _x(emitters: list[float]) -> np.ndarray:
    x = np.full((len(emitters), len(FEATURES)), np.nan)
    x[:, POSITION["emitter_count"]] = emitters
    return x


def test_typical_rule_by_hand() -> None:
    # 0.12 kg an emitter (common practice, no source); flush 90 min + 20 min an emitter
    magnetite = typical_rule(SPEC).quantiles(_x([10, np.nan]), [0.5])
    minutes = typical_rule(SPECS["flush_minutes"]).quantiles(_x([10]), [0.5])

    assert magnetite[:, 0] == pytest.approx([1.2, 1.2])
    assert minutes[0, 0] == pytest.approx(290)


def test_typical_rule_is_wide_and_never_below_nought() -> None:
    low, high = typical_rule(SPEC).quantiles(_x([10]), [0.05, 0.95])[0]

    assert 0 <= low < 0.4
    assert high > 4


def test_per_emitter_rule_is_the_median_per_emitter_times_the_count() -> None:
    # kilograms per emitter 0.1, 0.2, 0.3; leaving one out gives medians 0.25, 0.2, 0.15
    model = per_emitter_rule(SPEC, _x([10, 10, 10]), np.array([1.0, 2.0, 3.0]))

    assert model.method == "per_emitter_rule"
    assert model.quantiles(_x([20]), [0.5])[0, 0] == pytest.approx(4.0, rel=0.01)


def test_one_job_keeps_the_typical_spread_twice_over() -> None:
    # the next job differs from the usual as much as this one: variances add, the spread is √2 times as wide
    model = per_emitter_rule(SPEC, _x([10]), np.array([2.0]))

    low, middle, high = model.quantiles(_x([10]), [0.05, 0.5, 0.95])[0]

    assert middle == pytest.approx(2.0, rel=1e-6)
    assert high / middle == pytest.approx(np.exp(1.645 * np.sqrt(2) * SPEC.typical_log_sd), rel=0.05)
    assert low < middle / 3


def test_own_jobs_narrow_the_interval_once_they_reach_it() -> None:
    rng = np.random.default_rng(2)
    emitters = rng.integers(5, 15, 39).astype(float)
    mass = 0.2 * emitters * np.exp(rng.normal(0, 0.1, 39))

    few = per_emitter_rule(SPEC, _x(list(emitters[:8])), mass[:8]).quantiles(_x([10]), [0.05, 0.95])[0]
    many = per_emitter_rule(SPEC, _x(list(emitters)), mass).quantiles(_x([10]), [0.05, 0.95])[0]

    assert few[1] / few[0] > 10
    assert many[1] / many[0] < 2


def test_scores_come_from_leaving_each_job_out() -> None:
    # forecasts without the job itself: 2.5, 2.0, 1.5 kg; offset 0.02 kg; the middle score is 0
    model = per_emitter_rule(SPEC, _x([10, 10, 10]), np.array([1.0, 2.0, 3.0]))

    found = model.ladder.quantiles([0.25, 0.5, 0.75])

    assert found == pytest.approx([np.log(1.02 / 2.52), 0.0, np.log(3.02 / 1.52)])


def test_with_no_record_at_all_the_time_on_site_is_the_typical_flush_and_the_firms_set_up() -> None:
    model = model_without_records()
    request = pd.DataFrame([{"firm_id": "own", "job_id": "A", "emitter_count": 10}])
    columns = [column.name for column in BUILT["ftr_quote"].columns]
    volumes = pd.DataFrame(columns=[column.name for column in BUILT["ftr_volume"].columns])

    quote = answer(model, request.reindex(columns=columns), volumes, Firm(setup_minutes=100.0))[0]
    site = quote.forecasts["site_minutes"].quantiles

    # 90 min + 20 min an emitter + 100 min of set-up; half as long again or a third less is one log-spread of 0.5
    assert site.p50 == pytest.approx(390, rel=0.01)
    assert site.p90 == pytest.approx(391 * np.exp(1.2816 * 0.5) - 1, rel=0.02)
