"""Every number of a back-test as rows, each with its unit and what it means: for a file to keep."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import pandas as pd

from models.quote.coverage_tests import PROMISED, evenness, judged

if TYPE_CHECKING:
    from models.drift_scan import Drift
    from models.quote.backtest import BackTest, FoldScores, TargetScores
    from models.quote.base.quote_result import Target

Row = tuple[str, str, str, float | None, float | None, float | None, str, str]
COLUMNS = ("forecast", "of", "quantity", "value", "low", "high", "unit", "definition")
_LIMITS = "low and high are exact 95 % limits of a share (Clopper-Pearson)"


def numbers(test: BackTest, drift: Mapping[Target, Drift | None]) -> pd.DataFrame:
    """One row a number: columns `COLUMNS`; `low` and `high` are the ends of its interval, empty where it has none."""
    rows = [row for scores in test.targets.values() for row in _target(scores)]
    rows += [row for name, found in drift.items() if found is not None for row in _drift(name, found)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _target(scores: TargetScores) -> Iterator[Row]:
    name, unit = scores.target, scores.unit
    loss = "pinball loss, mean over seven quantiles and all tested jobs"
    yield name, "all jobs", "jobs", scores.jobs, None, None, "count", "tested, later than those learnt from"
    yield name, "this forecast", "pinball_loss", scores.pinball, None, None, unit, loss
    for peer, value in scores.peers.items():
        yield name, peer, "pinball_loss", value, None, None, unit, f"{loss}; simple rule calibrated on the same jobs"
    yield (
        name,
        scores.best_peer,
        "better_share",
        scores.better_share,
        None,
        None,
        "share",
        "1 - loss of this forecast / loss of the best simple rule",
    )
    for field, promised in PROMISED.items():
        for line in judged(scores, field):
            yield (
                name,
                line.name,
                f"coverage_{100 * promised:.0f}",
                line.share,
                line.low,
                line.high,
                "share of jobs",
                f"outcomes in the range meant for {100 * promised:.0f} %, of {line.jobs} jobs; {_LIMITS}; allowed "
                f"within {100 * line.band:.0f} points: {line.verdict}",
            )
    yield from _even(scores)
    low, high = scores.bias_interval or (None, None)
    yield (
        name,
        "newest 50 jobs",
        "median_bias",
        scores.median_bias,
        low,
        high,
        unit,
        "median of outcome less middle of forecast; low and high are order statistics, at least 95 %",
    )
    for fold in scores.folds_scores:
        yield from _fold(scores, fold)


def _even(scores: TargetScores) -> Iterator[Row]:
    found, parts = evenness(scores.pit), len(scores.pit)
    for place, count in enumerate(scores.pit, start=1):
        yield (
            scores.target,
            f"part {place} of {parts}",
            "outcomes",
            count,
            found.low,
            found.high,
            "count",
            "outcomes in this part of their forecast; low and high: all parts together stay within them in 95 % of "
            "cases when forecasts are honest",
        )
    for quantity, meaning in (("tilt", "above 0: outcomes lie high"), ("spread", "above 0: outcomes lie far out")):
        yield (
            scores.target,
            "all parts",
            quantity,
            getattr(found, quantity),
            None,
            None,
            "standard deviations",
            f"of the counts by part, standard normal when forecasts are honest; {meaning}",
        )
    yield (
        scores.target,
        "all parts",
        "p_even",
        found.p,
        None,
        None,
        "probability",
        f"of as uneven a picture from honest forecasts (Neyman's smooth test): {found.shape}",
    )


def _fold(scores: TargetScores, fold: FoldScores) -> Iterator[Row]:
    from dashboard.figures.forecast_periods import coverage_of

    name, of = scores.target, f"{fold.tested_from} to {fold.tested_to}"
    line = coverage_of(fold)
    yield name, of, "jobs", fold.jobs, None, None, "count", "tested, visited in this period, told by jobs before it"
    yield name, of, "pinball_loss", fold.pinball, None, None, scores.unit, "of this forecast in this period"
    for peer, value in fold.peers.items():
        yield name, of, f"pinball_loss, {peer}", value, None, None, scores.unit, "of a simple rule in this period"
    yield (
        name,
        of,
        "coverage_80",
        line.share,
        line.low,
        line.high,
        "share of jobs",
        f"outcomes in the range meant for 80 %; {_LIMITS}",
    )
    yield (
        name,
        of,
        "median_bias",
        fold.median_bias,
        None,
        None,
        scores.unit,
        "median of outcome less middle of the forecast in this period",
    )
    yield (
        name,
        of,
        "recalibrated",
        float(fold.recalibrated),
        None,
        None,
        "0 or 1",
        "1: before this period the ranges were set on the newest jobs alone, after a drift",
    )


def _drift(name: Target, found: Drift) -> Iterator[Row]:
    of = f"newest {found.window} of {found.jobs} jobs that set the ranges, since {found.since}"
    for quantity, value, unit, meaning in (
        ("drift_p", found.p, "probability", "of as large a change among jobs in random order"),
        ("drift_level_factor", found.level_factor, "ratio", "outcomes against forecasts, newest over earlier"),
        ("drift_spread_factor", found.spread_factor, "ratio", "scatter of outcomes, newest over earlier"),
        ("drift_recalibrated", float(found.recalibrated), "0 or 1", "1: the ranges rest on the newest jobs alone"),
    ):
        yield name, of, quantity, value, None, None, unit, meaning
