"""The form's answers become rows of the job log, or one sentence that names every contradiction."""

from __future__ import annotations

from datetime import date

import pytest

from dashboard.survey import Survey, tables
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput

ON = date(2031, 5, 6)


def test_counts_become_one_row_an_emitter() -> None:
    survey = Survey({"system_type": "sealed"}, {"panel_22": 3, "towel_rail": 1}, cold=2, upstairs=1, long=1)

    _, emitters, _ = tables(survey, ON)

    assert [row["emitter_kind"] for row in emitters] == ["panel_22"] * 3 + ["towel_rail"]
    assert [row["cold_at_survey"] for row in emitters] == [True, True, False, False]
    assert [row["floor_level"] for row in emitters] == [1, 0, 0, 0]
    assert [row.get("length_mm") for row in emitters] == [1600.0, None, None, None]


def test_what_is_not_known_is_left_out_and_never_said_to_be_no() -> None:
    survey = Survey({"system_type": "sealed", "install_year": None, "inhibitor_at_survey": None}, {"panel_11": 2})

    jobs, emitters, runs = tables(survey, ON)

    assert jobs == [{"job_id": "this-job", "visit_date": ON, "system_type": "sealed"}]
    assert all("cold_at_survey" not in row and "floor_level" not in row for row in emitters)
    assert runs == []


def test_lines_replace_counts() -> None:
    lines = ({"emitter_kind": "column", "height_mm": 600.0, "length_mm": None},)

    _, emitters, _ = tables(Survey({"system_type": "sealed"}, {"panel_11": 9}, lines=lines), ON)

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
