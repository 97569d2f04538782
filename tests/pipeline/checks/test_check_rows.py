"""Row rules: each broken rule is one fault with column, value and reason."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipeline.checks.check_rows import CheckedTable, check_table, heading_findings
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.readers.files import LINE, TextTable

TODAY = date(2026, 1, 1)
JOB = {
    "job_id": "a",
    "system_type": "sealed",
    "visit_date": "2025-03-04",
    "flush_started_at": "2025-03-04T09:00",
    "flush_ended_at": "2025-03-04T15:00",
}


def check(table: str, row: dict[str, str | None]) -> CheckedTable:
    frame = pl.DataFrame([row], schema=dict.fromkeys(row, pl.String)).with_columns(pl.lit(2, pl.Int64).alias(LINE))
    return check_table(table, f"{table}.csv", TextTable(frame), TODAY)


def test_a_row_with_only_what_is_required_is_accepted() -> None:
    got = check("jobs", dict(JOB))
    assert (got.accepted.height, got.rejects.height) == (1, 0)
    assert got.accepted["firm_id"].to_list() == ["own"]


@pytest.mark.parametrize(
    ("column", "value", "reason"),
    [
        ("job_id", None, "empty, but required"),
        ("job_id", "a\x1b[2J", "holds a control character, which no id may; type it again"),
        ("engineer_id", "e\u202e1", "holds a control character, which no id may; type it again"),
        ("engineer_id", "e\x9b1", "holds a control character, which no id may; type it again"),
        ("system_type", "solar", "not one of open_vented, sealed"),
        ("crew_size", "7", "outside 1..6"),
        ("crew_size", "1.5", "not a whole number"),
        ("boiler_output_kw", "nan", "not a number"),
        ("boiler_output_kw", "1e400", "not a number"),
        ("filter_at_survey", "perhaps", "not yes or no"),
        ("visit_date", "04/03/2025", "not a date like 2031-03-04"),
        ("visit_date", "2026-01-02", "after 2026-01-01, the day of loading"),
        ("visit_date", "1979-12-31", "before 1980-01-01"),
        ("install_year", "2026", "after the year of the visit"),
        ("predosed_on", "2025-03-05", "after visit_date"),
        ("predosed_on", "2024-12-03", "more than 90 days before visit_date"),
        ("flush_started_at", "2025-03-04T09:00Z", "not a local time like 2031-03-04T09:15"),
        ("flush_started_at", "2025-03-03T09:00", "before visit_date"),
        ("flush_ended_at", "2025-03-04T09:00", "not after flush_started_at"),
        ("flush_ended_at", "2025-03-09T09:01", "more than 5 days after flush_started_at"),
        ("arrived_at", "2025-03-04T09:01", "after flush_started_at"),
        ("left_at", "2025-03-04T14:59", "before flush_ended_at"),
        ("followed_until", "2025-03-03", "before visit_date"),
    ],
)
def test_a_broken_rule_names_column_value_and_reason(column: str, value: str | None, reason: str) -> None:
    rejects = check("jobs", JOB | {column: value}).rejects
    assert (column, value, reason) in rejects.select("column_name", "value", "reason").rows()


@pytest.mark.parametrize(
    ("column", "value", "typed"),
    [
        ("filter_at_survey", "Y", True),
        ("filter_at_survey", "0", False),
        ("system_type", " SEALED ", "sealed"),
        ("crew_size", "2.0", 2),
        ("predosed_on", "2025-03-01T00:00:00", date(2025, 3, 1)),
        ("floor_count", "", None),
    ],
)
def test_spellings_that_mean_the_same_are_read(column: str, value: str, typed: object) -> None:
    assert check("jobs", JOB | {column: value}).accepted[column].to_list() == [typed]


@pytest.mark.parametrize("bound", ["low", "high"])
def test_the_bounds_themselves_are_inside(bound: str) -> None:
    row = {c.name: f"{getattr(c, bound):g}" for c in JOB_LOG["readings"].columns if getattr(c, bound) is not None}
    got = check("readings", row | {"job_id": "a", "read_at": "2025-03-04T09:00"})
    assert got.rejects.height == 0


def test_several_faults_of_one_row_are_all_told() -> None:
    rejects = check("jobs", JOB | {"crew_size": "9", "floor_count": "x"}).rejects
    assert rejects["column_name"].to_list() == ["crew_size", "floor_count"]


def test_a_missing_required_column_is_refused_with_its_name() -> None:
    with pytest.raises(BadInput, match=r"catches.csv has no column 'trap', 'mass_g'"):
        heading_findings("catches", "catches.csv", ("job_id", "catch_no", "caught_at"))


@pytest.mark.parametrize("heading", ["customer_name", "phone", "E-Mail".lower(), "street address", "post_code_contact"])
def test_headings_that_look_private_are_called_so(heading: str) -> None:
    headings = ("job_id", "emitter_no", heading)
    assert [f.code for f in heading_findings("emitters", "emitters.csv", headings)] == ["private_column"]
