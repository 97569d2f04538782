"""Parts of "How good are the forecasts": one target's pictures, all targets as a table, what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import wording
from dashboard.app_parts import frame
from dashboard.figures import forecasts as figures

if TYPE_CHECKING:
    from dashboard.data import Holdings
    from models.quote.backtest import BackTest, TargetScores


def beside_peers(scores: TargetScores) -> str:
    """Whether the forecast beats its best simple peer, and by how much."""
    peer = figures.PEER_NAMES.get(scores.best_peer, scores.best_peer)
    if scores.better_share > 0:
        return f"Its error is {wording.share(scores.better_share)} lower than that of the best simple rule ({peer})."
    return f"Its error is {wording.share(-scores.better_share)} higher than that of the best simple rule ({peer})."


def draw_target(test: BackTest) -> None:
    """Coverage, error and place of the outcomes for one target, picked above the pictures."""
    chosen = st.segmented_control(
        "Forecast", list(test.targets), default=next(iter(test.targets)), key="forecasts_target", required=True,
        format_func=lambda name: wording.TARGETS[name],
    )  # fmt: skip
    scores = test.targets[chosen or next(iter(test.targets))]
    look = frame.current_look()
    st.header("Do the ranges hold what they promise?", anchor=False)
    frame.small("Filled: the range for 8 in 10. Open: the range for 9 in 10. Jobs tested in brackets.")
    rows = pd.DataFrame(
        [
            {"Jobs": name, "Tested": c.jobs, "In the 80 % range [%]": round(100 * c.share_80, 1),
             "In the 90 % range [%]": round(100 * c.share_90, 1)}
            for name, c in {"all jobs": scores.coverage, **scores.groups}.items()
        ]
    )  # fmt: skip
    frame.chart(figures.coverage_figure(scores, look), key="forecasts_coverage", alt=figures.coverage_alt(scores),
                rows=rows, file_name="coverage.csv")  # fmt: skip
    left, right = st.columns(2)
    with left:
        st.subheader("Error beside simple rules", anchor=False)
        losses = pd.DataFrame({"Rule": ["this forecast", *scores.peers],
                               f"Pinball loss [{scores.unit}]": [scores.pinball, *scores.peers.values()]})  # fmt: skip
        frame.chart(figures.error_figure(scores, look), key="forecasts_error", alt=figures.error_alt(scores),
                    rows=losses, file_name="error.csv")  # fmt: skip
    with right:
        st.subheader("Where outcomes fell", anchor=False)
        tenths = pd.DataFrame({"Tenth of the forecast": range(1, len(scores.pit) + 1), "Jobs": scores.pit})
        frame.chart(figures.pit_figure(scores, look), key="forecasts_pit", alt=figures.pit_alt(scores), rows=tenths,
                    file_name="pit.csv")  # fmt: skip


def draw_all(test: BackTest) -> None:
    """Every target in one table."""
    st.header("All forecasts", anchor=False)
    rows = pd.DataFrame(figures.score_rows(test.targets))
    frame.table(rows, key="forecasts_all", file_name="forecasts.csv", alt="Coverage and error of every forecast")


def draw_basis(test: BackTest, holdings: Holdings) -> None:
    """How the test was made, and what it cannot show."""
    st.header("What this rests on", anchor=False)
    st.markdown(
        f"{wording.count(test.jobs, 'finished job')} in the book. Each step learns from the oldest jobs, sets its "
        "ranges on newer ones and is tried on jobs newer still: never on a job it has seen. Pinball loss is the mean "
        "error of seven quantiles, each weighed by its own level: lower is better, and a range that is too wide or too "
        "narrow both raise it."
    )
    if holdings.is_simulated:
        st.markdown("These scores are on simulated jobs: they show that the method works, not how it does on yours.")
