"""The form's answers become rows of the job log, or one sentence that names every contradiction."""

from __future__ import annotations

from datetime import date

import pytest

from dashboard.survey import Survey, tables
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput

ON = date(2031, 5, 6)


def test_counts_stay_counts_and_no_emitter_is_made_up() -> None:
    survey = Survey(
        {"system_type": "sealed"}, {"panel_22": 3, "towel_rail": 1, "column": 0}, cold=2, upstairs=0, long=1
    )

    (job,), emitters, _ = tables(survey, ON)

    assert emitters == []
    assert {name: value for name, value in job.items() if "count" in name} == {
        "emitter_count_at_survey": 4,
        "cold_count_at_survey": 2,
        "upstairs_count_at_survey": 0,
        "long_count_at_survey": 1,
        "panel_22_count": 3,
        "towel_rail_count": 1,
    }


def test_what_is_not_known_is_left_out_and_never_said_to_be_no() -> None:
    survey = Survey({"system_type": "sealed", "install_year": None, "inhibitor_at_survey": None}, {"panel_11": 2})

    jobs, emitters, runs = tables(survey, ON)

    counted = {"emitter_count_at_survey": 2, "panel_11_count": 2}
    assert jobs == [{"job_id": "this-job", "visit_date": ON, "system_type": "sealed", **counted}]
    assert emitters == []
    assert runs == []


def test_lines_replace_counts() -> None:
    lines = ({"emitter_kind": "column", "height_mm": 600.0, "length_mm": None},)

    (job,), emitters, _ = tables(Survey({"system_type": "sealed"}, {"panel_11": 9}, cold=2, lines=lines), ON)

    assert not [name for name in job if "count" in name]
    assert emitters == [{"job_id": "this-job", "emitter_no": 1, "emitter_kind": "column", "height_mm": 600.0}]


def test_pipe_lengths_become_runs() -> None:
    survey = Survey({"system_type": "sealed"}, pipe_lengths_m={22.0: 12.0, 15.0: 0.0})

    _, _, runs = tables(survey, ON)

    assert runs == [{"job_id": "this-job", "run_no": 1, "outside_mm": 22.0, "length_m": 12.0}]


def test_every_contradiction_is_named_at_once() -> None:
    job = {"system_type": "sealed", "install_year": 2032, "predosed_on": date(2031, 1, 1)}

    with pytest.raises(BadInput, match="3 emitters are marked cold, but only 2") as problem:
        tables(Survey(job, {"panel_11": 2}, cold=3), ON)

    assert "(2032) lies after the visit (2031)" in str(problem.value)
    assert "within the 90 days before the visit" in str(problem.value)


def test_every_column_of_the_rows_is_in_the_contract() -> None:
    survey = Survey({"system_type": "sealed"}, {"panel_22": 2}, 1, 1, 1, pipe_lengths_m={22.0: 3.0})

    for name, rows in zip(("jobs", "emitters", "pipe_runs"), tables(survey, ON), strict=True):
        assert {column for row in rows for column in row} <= set(JOB_LOG[name].names)
