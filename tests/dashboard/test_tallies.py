"""Small sums, worked by hand."""

from __future__ import annotations

import pandas as pd
import pytest

from dashboard import tallies
from models.refusals import NotEnoughData


def test_the_usual_job_is_the_middle_one_and_takes_the_flush_where_site_time_is_missing() -> None:
    jobs = pd.DataFrame(
        {
            "magnetite_kg": [1.0, 2.0, 9.0, None],
            "site_minutes": [300.0, None, 500.0, 100.0],
            "flush_minutes": [200.0, 250.0, 400.0, 50.0],
        }
    )

    usual = tallies.usual_of(jobs)

    assert (usual.jobs, usual.magnetite_kg.p50, usual.site_minutes.p50) == (3, 2.0, 300.0)


def test_no_weighed_job_is_refused_with_a_sentence() -> None:
    jobs = pd.DataFrame({"magnetite_kg": [None], "site_minutes": [100.0], "flush_minutes": [80.0]})

    with pytest.raises(NotEnoughData, match="at least 1 finished job with a weighing; there are 0"):
        tallies.usual_of(jobs)


def test_months_without_jobs_are_there() -> None:
    jobs = pd.DataFrame({"visit_date": ["2030-01-05", "2030-03-01", "2030-03-09"], "is_simulated": [True, False, True]})

    months = tallies.visits_by_month(jobs)

    assert months["real"].tolist() == [0, 0, 1]
    assert months["simulated"].tolist() == [1, 0, 1]


def test_a_column_half_filled_is_said_to_be_half_filled() -> None:
    callbacks = pd.DataFrame(
        {
            "firm_id": ["own"] * 2,
            "job_id": ["a", "b"],
            "called_back_on": ["2030-01-01"] * 2,
            "cause": ["noise", "pump"],
            "debris_related": [True, None],
            "emitter_no": [3, 4],
        }
    )
    empty = {name: pd.DataFrame() for name in ("jobs", "emitters", "pipe_runs", "catches", "readings")}

    rows = tallies.filled({**empty, "callbacks": callbacks})

    assert rows[["Column", "Filled in [%]"]].values.tolist() == [["debris_related", 50.0], ["emitter_no", 100.0]]
