"""What the page says of a back-test, and the file with every number."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from dashboard.words import forecast_numbers, forecast_words
from models.drift_scan import Drift

if TYPE_CHECKING:
    from models.quote.backtest import TargetScores

DRIFTED = Drift(120, 40, date(2031, 3, 4), 21.0, 0.0004, 1.5, 0.9, recalibrated=True)


def test_the_answer_counts_jobs_of_ten(scores: TargetScores) -> None:
    from models.quote.backtest import BackTest

    test = BackTest(400, {"magnetite_kg": scores})

    told = "Of 10 past jobs, this many landed in the range that said 8: 8.1 for magnetite."
    assert forecast_words.answer(test) == told


def test_coverage_is_judged_by_its_limits(scores: TargetScores) -> None:
    from models.scores import Coverage

    poor = replace(scores, coverage=Coverage(1000, 0.7, 0.8), groups={"sealed": Coverage(1000, 0.7, 0.8)})

    # 81 of 100, limits 71.9 to 88.2 %: within 3 points, not proven; the groups lie within 6
    assert "81 % fell in the 80 % range (limits of chance 72 % to 88 %)" in forecast_words.coverage(scores)
    assert "though 100 jobs cannot prove it. Every group keeps within 6 points." in forecast_words.coverage(scores)
    assert "the ranges are too narrow" in forecast_words.coverage(poor)
    assert "By group beyond chance: sealed (70 % of 1000)." in forecast_words.coverage(poor)


def test_a_bias_is_told_with_its_interval(scores: TargetScores) -> None:
    assert "which chance alone could do" in forecast_words.bias(scores)
    assert "too high of late" in forecast_words.bias(replace(scores, bias_interval=(-0.3, -0.01)))
    assert "too few to tell" in forecast_words.bias(replace(scores, bias_interval=None))


def test_drift_is_told_in_words(scores: TargetScores) -> None:
    assert "given 1.5 times what earlier jobs led to expect" in forecast_words.drift("magnetite_kg", DRIFTED)
    assert "taken 1.5 times" in forecast_words.drift("site_minutes", DRIFTED)
    assert "No drift" in forecast_words.drift("magnetite_kg", replace(DRIFTED, p=0.3, recalibrated=False))
    assert "50 are the least" in forecast_words.drift("magnetite_kg", None)


def test_periods_count_wins_and_resets(scores: TargetScores) -> None:
    assert forecast_words.periods(scores).startswith("Better than every simple rule in 1 of 2 periods.")
    assert "Before 1 of them the ranges were reset" in forecast_words.periods(scores)


def test_every_number_has_a_unit_and_a_definition(scores: TargetScores) -> None:
    from models.quote.backtest import BackTest

    rows = forecast_numbers.numbers(BackTest(400, {"magnetite_kg": scores}), {"magnetite_kg": DRIFTED})

    assert not rows[["forecast", "of", "quantity", "unit", "definition"]].isna().any().any()
    assert rows["definition"].str.len().min() > 20
    named = rows.set_index(["of", "quantity"])["value"]
    assert named["all jobs", "coverage_80"] == pytest.approx(0.81)
    assert named["linear", "pinball_loss"] == pytest.approx(0.30)
    assert rows["quantity"].str.startswith("drift_").sum() == 4
    assert not rows.duplicated(["forecast", "of", "quantity"]).any()
