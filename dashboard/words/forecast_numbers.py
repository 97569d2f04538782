"""Every number of a back-test as rows, each with its unit and what it means: for a file to keep."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING

from dashboard.words.forecast_words import coverage_of
from dashboard.words.number_rows import COUNT, SHARE, NumberRow, number_table
from models.quote.coverage_tests import PROMISED, evenness, judged
from models.quote.outturn import NAMES

if TYPE_CHECKING:
    import pandas as pd

    from models.drift_scan import Drift
    from models.quote.backtest import BackTest, FoldScores, TargetScores
    from models.quote.base.quote_result import Target
    from models.quote.outturn import Outturn

COLUMNS = ("forecast", "of", "quantity", "value", "low", "high", "unit", "definition")
_LIMITS = "low and high are exact 95 % limits of a share (Clopper-Pearson)"


def numbers(test: BackTest, drift: Mapping[Target, Drift | None]) -> pd.DataFrame:
    """One row a number: columns `COLUMNS`; `low` and `high` are the ends of its interval, empty where it has none."""
    rows = [row for scores in test.targets.values() for row in _target(scores)]
    rows += [row for each in test.acted_on for row in _acted_on(each)]
    rows += [row for name, found in drift.items() if found is not None for row in _drift(name, found)]
    return number_table(rows, COLUMNS)


def _acted_on(each: Outturn) -> Iterator[NumberRow]:
    row = partial(NumberRow, "what an owner acts on", NAMES[each.name])
    yield row("jobs", each.jobs, COUNT, "tested, later than those learnt from")
    yield row("told", each.told, SHARE, "mean of what was told of these jobs")
    limits = "Kaplan-Meier, 95 %" if each.name == "callback" else _LIMITS
    yield row("came", each.came, SHARE, f"share of these jobs in which it came; {limits}", each.low, each.high)


def _target(scores: TargetScores) -> Iterator[NumberRow]:
    row, unit = partial(NumberRow, scores.target), scores.unit
    yield row("all jobs", "jobs", scores.jobs, COUNT, "tested, later than those learnt from")
    loss = "pinball loss, mean over seven quantiles and all tested jobs"
    yield row("this forecast", "pinball_loss", scores.pinball, unit, loss)
    for peer, value in scores.peers.items():
        yield row(peer, "pinball_loss", value, unit, f"{loss}; simple rule calibrated on the same jobs")
    told = "1 - loss of this forecast / loss of the best simple rule"
    yield row(scores.best_peer, "better_share", scores.better_share, "share", told)
    yield from _covered(scores)
    yield from _even(scores)
    low, high = scores.bias_interval or (None, None)
    told = "median of outcome less middle of forecast; low and high are order statistics, at least 95 %"
    yield row("newest 50 jobs", "median_bias", scores.median_bias, unit, told, low, high)
    for fold in scores.folds_scores:
        yield from _fold(scores, fold)


def _covered(scores: TargetScores) -> Iterator[NumberRow]:
    for field, promised in PROMISED.items():
        for line in judged(scores, field):
            told = (
                f"outcomes in the range meant for {100 * promised:.0f} %, of {line.jobs} jobs; {_LIMITS}; allowed "
                f"within {100 * line.band:.0f} points: {line.verdict}"
            )
            quantity = f"coverage_{100 * promised:.0f}"
            yield NumberRow(scores.target, line.name, quantity, line.share, SHARE, told, line.low, line.high)


def _even(scores: TargetScores) -> Iterator[NumberRow]:
    row, found, parts = partial(NumberRow, scores.target), evenness(scores.pit), len(scores.pit)
    told = (
        "outcomes in this part of their forecast; low and high: all parts together stay within them in 95 % of "
        "cases when forecasts are honest"
    )
    for place, count in enumerate(scores.pit, start=1):
        yield row(f"part {place} of {parts}", "outcomes", count, COUNT, told, found.low, found.high)
    for quantity, meaning in (("tilt", "above 0: outcomes lie high"), ("spread", "above 0: outcomes lie far out")):
        told = f"of the counts by part, standard normal when forecasts are honest; {meaning}"
        yield row("all parts", quantity, getattr(found, quantity), "standard deviations", told)
    told = f"of as uneven a picture from honest forecasts (Neyman's smooth test): {found.shape}"
    yield row("all parts", "p_even", found.p, "probability", told)


def _fold(scores: TargetScores, fold: FoldScores) -> Iterator[NumberRow]:
    row, unit = partial(NumberRow, scores.target, f"{fold.tested_from} to {fold.tested_to}"), scores.unit
    line = coverage_of(fold)
    yield row("jobs", fold.jobs, COUNT, "tested, visited in this period, told by jobs before it")
    yield row("pinball_loss", fold.pinball, unit, "of this forecast in this period")
    for peer, value in fold.peers.items():
        yield row(f"pinball_loss, {peer}", value, unit, "of a simple rule in this period")
    told = f"outcomes in the range meant for 80 %; {_LIMITS}"
    yield row("coverage_80", line.share, SHARE, told, line.low, line.high)
    told = "median of outcome less middle of the forecast in this period"
    yield row("median_bias", fold.median_bias, unit, told)
    told = "1: before this period the ranges were set on the newest jobs alone, after a drift"
    yield row("recalibrated", float(fold.recalibrated), "0 or 1", told)


def _drift(name: Target, found: Drift) -> Iterator[NumberRow]:
    of = f"newest {found.window} of {found.jobs} jobs that set the ranges, since {found.since}"
    row = partial(NumberRow, name, of)
    yield row("drift_p", found.p, "probability", "of as large a change among jobs in random order")
    told = "outcomes against forecasts, newest over earlier"
    yield row("drift_level_factor", found.level_factor, "ratio", told)
    yield row("drift_spread_factor", found.spread_factor, "ratio", "scatter of outcomes, newest over earlier")
    told = "1: the ranges rest on the newest jobs alone"
    yield row("drift_recalibrated", float(found.recalibrated), "0 or 1", told)
