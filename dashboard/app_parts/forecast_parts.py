"""Parts of "How good are the forecasts": one target's pictures and sentences, all targets, what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.figures import forecast_periods as over_time
from dashboard.figures import forecasts as figures
from dashboard.kept import made
from dashboard.words import forecast_numbers, forecast_words, wording
from models.quote.coverage_tests import PROMISED, evenness, judged
from models.quote.outturn import NAMES

if TYPE_CHECKING:
    from dashboard.data import Holdings
    from models.drift_scan import Drift
    from models.quote.backtest import BackTest, TargetScores
    from models.quote.base.quote_result import Target


def tested_on(test: BackTest) -> str:
    """What was tested, in one line."""
    jobs = max(scores.jobs for scores in test.targets.values())
    return (
        f"{wording.count(jobs, 'job')}, each told by jobs before it. The 9-in-10 ranges, groups of jobs, errors and "
        "what has changed of late stand below, for each forecast."
    )


def draw_acted_on(test: BackTest) -> None:
    """Second days, cost, loss and callbacks: told, and come."""
    if not test.acted_on:
        return
    st.header("Does what you act on come true?", anchor=False)
    st.markdown(made(forecast_words.acted_on, test))
    frame.table(
        made(acted_on_rows, test),
        key="forecasts_acted_on",
        file_name="acted_on.csv",
        alt="Second days, cost, loss and callbacks of later jobs: share told, share that came",
    )
    frame.small(
        "Each job as it was planned, at today's rates; a cost is worked out from the minutes, days and kilograms that "
        "came. Cost and loss leave callbacks out, which have a row of their own. Limits of chance, 95 %."
    )


def acted_on_rows(test: BackTest) -> pd.DataFrame:
    """One row a figure, in per cent of the later jobs."""
    return pd.DataFrame(
        [
            {
                "Of later jobs": NAMES[each.name],
                "Tested": each.jobs,
                "Told [%]": round(100 * each.told, 1),
                "Came [%]": round(100 * each.came, 1),
                "from": round(100 * each.low, 1),
                "to": round(100 * each.high, 1),
            }
            for each in test.acted_on
        ]
    )


def pick_target(test: BackTest) -> TargetScores:
    """The forecast that the pictures below are about."""
    chosen = st.segmented_control(
        "Forecast",
        list(test.targets),
        default=next(iter(test.targets)),
        key="forecasts_target",
        required=True,
        format_func=lambda name: wording.TARGETS[name],
    )
    return test.targets[chosen or next(iter(test.targets))]


def draw_promise(scores: TargetScores) -> None:
    """Coverage over all jobs and by group, and where the outcomes fell."""
    look = frame.current_look()
    st.header("Do the ranges hold what they promise?", anchor=False)
    st.markdown(made(forecast_words.coverage, scores))
    frame.small(
        "Filled: the range for 8 in 10. Open: the range for 9 in 10. Lines: limits of chance, 95 %. Shaded: how far a "
        "row may lie from its promise, 3 points for all jobs, 6 for a group. Jobs tested in brackets."
    )
    frame.chart(
        made(figures.coverage_figure, scores, look),
        key="forecasts_coverage",
        alt=made(figures.coverage_alt, scores),
        rows=made(coverage_rows, scores),
        file_name="coverage.csv",
    )
    st.subheader("Where outcomes fell", anchor=False)
    st.markdown(made(forecast_words.even, scores))
    frame.chart(
        made(figures.pit_figure, scores, look),
        key="forecasts_pit",
        alt=made(figures.pit_alt, scores),
        rows=made(pit_rows, scores),
        file_name="pit.csv",
    )


def pit_rows(scores: TargetScores) -> pd.DataFrame:
    """Jobs in each tenth of the forecast, with what chance gives."""
    found = evenness(scores.pit)
    return pd.DataFrame(
        {
            "Tenth of the forecast": range(1, len(scores.pit) + 1),
            "Jobs": scores.pit,
            "By chance from": found.low,
            "By chance to": found.high,
        }
    )


def score_rows(test: BackTest) -> pd.DataFrame:
    """Every target in one table."""
    return pd.DataFrame(figures.score_rows(test.targets))


def coverage_rows(scores: TargetScores) -> pd.DataFrame:
    """Coverage of both ranges by group, with limits and verdict, in per cent."""
    both = [judged(scores, field) for field in PROMISED]
    return pd.DataFrame(
        [
            {
                "Jobs": eight.name,
                "Tested": eight.jobs,
                "In the 80 % range [%]": round(100 * eight.share, 1),
                "from": round(100 * eight.low, 1),
                "to": round(100 * eight.high, 1),
                "Verdict on it": eight.verdict,
                "In the 90 % range [%]": round(100 * nine.share, 1),
                "from ": round(100 * nine.low, 1),
                "to ": round(100 * nine.high, 1),
                "Verdict on that": nine.verdict,
            }
            for eight, nine in zip(*both, strict=True)
        ]
    )


def draw_error(scores: TargetScores) -> None:
    """Error beside the simple rules."""
    st.header("Is it better than a simple rule?", anchor=False)
    st.markdown(made(forecast_words.beside_peers, scores))
    losses = pd.DataFrame(
        {
            "Rule": ["this forecast", *scores.peers],
            f"Pinball loss [{scores.unit}]": [scores.pinball, *scores.peers.values()],
        }
    )
    frame.chart(
        made(figures.error_figure, scores, frame.current_look()),
        key="forecasts_error",
        alt=made(figures.error_alt, scores),
        rows=losses,
        file_name="error.csv",
    )


def draw_periods(scores: TargetScores) -> None:
    """Error and coverage, period by period."""
    st.header("Has it been good all along?", anchor=False)
    if not scores.folds_scores:
        frame.instead(
            "These forecasts were learnt by an earlier version, which kept no scores by period.",
            "Learn again from the jobs: `sludgebook train`.",
        )
        return
    st.markdown(made(forecast_words.periods, scores))
    look, rows = frame.current_look(), made(period_rows, scores)
    left, right = st.columns(2)
    with left:
        st.subheader("Error by period", anchor=False)
        frame.chart(
            made(over_time.loss_figure, scores, look),
            key="forecasts_loss_by_period",
            alt=made(over_time.loss_alt, scores),
            rows=rows,
            file_name="periods.csv",
        )
    with right:
        st.subheader("In the 80 % range by period", anchor=False)
        frame.chart(
            made(over_time.coverage_figure, scores, look),
            key="forecasts_coverage_by_period",
            alt=made(over_time.coverage_alt, scores),
            rows=rows,
            file_name="periods.csv",
        )


def period_rows(scores: TargetScores) -> pd.DataFrame:
    """One row a period: dates, jobs, losses, coverage with limits, bias."""
    rows = []
    for fold in scores.folds_scores:
        line = forecast_words.coverage_of(fold)
        peers = {
            f"{forecast_words.PEER_NAMES.get(n, n)} [{scores.unit}]": round(loss, 4) for n, loss in fold.peers.items()
        }
        rows.append(
            {
                "From": fold.tested_from,
                "To": fold.tested_to,
                "Jobs": fold.jobs,
                f"Pinball loss [{scores.unit}]": round(fold.pinball, 4),
                **peers,
                "In the 80 % range [%]": round(100 * line.share, 1),
                "from": round(100 * line.low, 1),
                "to": round(100 * line.high, 1),
                f"Outcome less middle [{scores.unit}]": round(fold.median_bias, 3),
                "Ranges reset after a drift": fold.recalibrated,
            }
        )
    return pd.DataFrame(rows)


def draw_newest(scores: TargetScores, drift: Drift | None) -> None:
    """Bias over the newest jobs, and whether they have drifted."""
    st.header("Does it still hold for the newest jobs?", anchor=False)
    st.markdown(made(forecast_words.bias, scores))
    st.markdown(forecast_words.drift(scores.target, drift))


def draw_all(test: BackTest, drift: Mapping[Target, Drift | None]) -> None:
    """Every target in one table, and every number as a file."""
    st.header("All forecasts", anchor=False)
    rows = made(score_rows, test)
    frame.table(rows, key="forecasts_all", file_name="forecasts.csv", alt="Coverage and error of every forecast")
    st.download_button(
        "Every number, with its definition (CSV)",
        lambda: frame.csv_bytes(forecast_numbers.numbers(test, drift)),
        "forecast_numbers.csv",
        "text/csv",
        key="forecasts_numbers",
        on_click="ignore",
        icon=":material/download:",
    )


def draw_basis(test: BackTest, holdings: Holdings) -> None:
    """How the test was made, and what it cannot show."""
    st.header("What this rests on", anchor=False)
    st.markdown(
        f"{wording.count(test.jobs, 'finished job')} in the book. Each step learns from the oldest jobs, sets its "
        "ranges by those jobs, each forecast without it, and is tried on newer ones: never on a job it has seen. "
        "Pinball loss is the mean "
        "error of seven quantiles, each weighed by its own level: lower is better, and a range that is too wide or too "
        "narrow both raise it."
    )
    if holdings.is_simulated:
        st.markdown("These scores are on simulated jobs: they show that the method works, not how it does on yours.")
