"""Rules of a row at their edges, by both readers: the edge itself loads, one step beyond is a fault or a warning.

Each case stands beside a plain row of another firm with the same job number, so that a fault must find its own row.
"""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipeline.checks.check_rows import CheckedTable, check_rows
from pipeline.checks.quick_check import quick_rows
from pipeline.contract import JOB_LOG
from pipeline.readers.csv_chunks import Piece
from pipeline.readers.files import LINE, TextTable

TODAY = date(2026, 1, 1)
ROWS = {
    "jobs": {
        "firm_id": "s",
        "job_id": "a",
        "system_type": "sealed",
        "visit_date": "2025-03-04",
        "flush_started_at": "2025-03-04T09:00",
        "flush_ended_at": "2025-03-04T15:00",
    },
    "callbacks": {"firm_id": "s", "job_id": "a", "called_back_on": "2025-06-01", "cause": "blockage"},
    "emitters": {"firm_id": "s", "job_id": "a", "emitter_no": "3"},
    "pipe_runs": {
        "firm_id": "s",
        "job_id": "a",
        "run_no": "1",
        "material": "copper",
        "outside_mm": "15",
        "length_m": "2",
    },
    "catches": {
        "firm_id": "s",
        "job_id": "a",
        "catch_no": "1",
        "caught_at": "2025-03-04T10:00",
        "trap": "magnet",
        "mass_g": "9",
    },
    "readings": {"firm_id": "s", "job_id": "a", "read_at": "2025-03-04T10:00"},
}
Cells = dict[str, str]


def slowly(table: str, *rows: Cells) -> CheckedTable:
    """A plain row of firm n on line 2, then rows of firm s with these cells from line 3 on."""
    every = [ROWS[table] | {"firm_id": "n"}, *(ROWS[table] | cells for cells in rows)]
    names = dict.fromkeys(name for row in every for name in row)
    frame = pl.DataFrame([dict.fromkeys(names) | row for row in every], schema=dict.fromkeys(names, pl.String))
    text = TextTable(frame.with_columns(pl.int_range(2, 2 + len(every), dtype=pl.Int64).alias(LINE)))
    return check_rows(JOB_LOG[table], f"{table}.csv", text, TODAY)


def quickly(table: str, cells: Cells) -> pl.DataFrame | None:
    row = ROWS[table] | cells
    plain = dict.fromkeys(row, "") | ROWS[table] | {"firm_id": "n"}
    data = "".join(",".join(each.values()) + "\n" for each in (plain, row)).encode()
    return quick_rows(Piece(data, 2, 2), tuple(row), JOB_LOG[table], TODAY)


def told(found: pl.DataFrame) -> list[tuple[int, str, str, str]]:
    return found.select("line", "firm_id", "column_name", "reason").rows()


NEW_YEAR = {"visit_date": "2026-01-01", "flush_started_at": "2026-01-01T09:00", "flush_ended_at": "2026-01-01T15:00"}
SECOND = {name: cell.replace("2026-01-01", "2026-01-02") for name, cell in NEW_YEAR.items()}
FIRST = {"visit_date": "1980-01-01", "flush_started_at": "1980-01-01T09:00", "flush_ended_at": "1980-01-01T15:00"}
SIXTH_DAY = {"flush_started_at": "2025-03-10T00:00", "flush_ended_at": "2025-03-10T05:00"}

# the last row that loads, the first that does not, by the calendar: 2024-12-04 is 90 days before 2025-03-04
BETWEEN = [
    ("jobs", NEW_YEAR, SECOND, "visit_date", "after 2026-01-01, the day of loading"),
    ("jobs", FIRST, FIRST | {"visit_date": "1979-12-31"}, "visit_date", "before 1980-01-01"),
    ("jobs", {"install_year": "2025"}, {"install_year": "2026"}, "install_year", "after the year of the visit"),
    (
        "jobs",
        {"last_cleaned_year": "2025"},
        {"last_cleaned_year": "2026"},
        "last_cleaned_year",
        "after the year of the visit",
    ),
    ("jobs", {"predosed_on": "2025-03-04"}, {"predosed_on": "2025-03-05"}, "predosed_on", "after visit_date"),
    (
        "jobs",
        {"predosed_on": "2024-12-04"},
        {"predosed_on": "2024-12-03"},
        "predosed_on",
        "more than 90 days before visit_date",
    ),
    (
        "jobs",
        {"flush_started_at": "2025-03-04T00:00"},
        {"flush_started_at": "2025-03-03T23:59"},
        "flush_started_at",
        "before visit_date",
    ),
    (
        "jobs",
        {"flush_ended_at": "2025-03-04T09:01"},
        {"flush_ended_at": "2025-03-04T09:00"},
        "flush_ended_at",
        "not after flush_started_at",
    ),
    (
        "jobs",
        {"flush_ended_at": "2025-03-09T09:00"},
        {"flush_ended_at": "2025-03-09T09:01"},
        "flush_ended_at",
        "more than 5 days after flush_started_at",
    ),
    (
        "jobs",
        {"arrived_at": "2025-03-04T09:00"},
        {"arrived_at": "2025-03-04T09:01"},
        "arrived_at",
        "after flush_started_at",
    ),
    ("jobs", {"arrived_at": "2025-03-04T00:00"}, {"arrived_at": "2025-03-03T23:59"}, "arrived_at", "before visit_date"),
    ("jobs", {"left_at": "2025-03-04T15:00"}, {"left_at": "2025-03-04T14:59"}, "left_at", "before flush_ended_at"),
    (
        "jobs",
        {"left_at": "2025-03-05T15:00"},
        {"left_at": "2025-03-05T15:01"},
        "left_at",
        "more than a day after flush_ended_at",
    ),
    ("jobs", {"followed_until": "2025-03-04"}, {"followed_until": "2025-03-03"}, "followed_until", "before visit_date"),
    (
        "callbacks",
        {"called_back_on": "2026-01-01"},
        {"called_back_on": "2026-01-02"},
        "called_back_on",
        "after 2026-01-01, the day of loading",
    ),
    ("readings", {"flow_temp_c": "0.0"}, {"flow_temp_c": "-0.1"}, "flow_temp_c", "outside 0..100 °C"),
]


@pytest.mark.parametrize(("table", "inside", "beyond", "column", "reason"), BETWEEN)
def test_the_edge_of_a_rule_is_inside_and_one_step_beyond_is_a_fault(
    table: str, inside: Cells, beyond: Cells, column: str, reason: str
) -> None:
    at_edge, quick, fault = slowly(table, inside), quickly(table, inside), slowly(table, beyond)

    assert not at_edge.rejects.height
    assert (quick is None) == bool(at_edge.warnings.height)
    assert quick is None or quick.equals(at_edge.accepted)
    assert told(fault.rejects) == [(3, "s", column, reason)]
    assert fault.accepted["firm_id"].to_list() == ["n"]
    assert quickly(table, beyond) is None


WARNED = [
    (
        "jobs",
        {"flush_started_at": "2025-03-09T23:58", "flush_ended_at": "2025-03-09T23:59"},
        SIXTH_DAY,
        "flush_started_at",
        "more than 5 days after visit_date",
    ),
    (
        "jobs",
        {"followed_until": "2026-01-01"},
        {"followed_until": "2026-01-02"},
        "followed_until",
        "after 2026-01-01, the day of loading: follow-up counts to that day",
    ),
    ("jobs", {"survey_ph": "6"}, {"survey_ph": "5.99"}, "survey_ph", "unusual: outside 6..11"),
    ("jobs", {"survey_ph": "11"}, {"survey_ph": "11.01"}, "survey_ph", "unusual: outside 6..11"),
    ("readings", {"flow_temp_c": "5"}, {"flow_temp_c": "4.9"}, "flow_temp_c", "unusual: outside 5..90 °C"),
    ("readings", {"return_temp_c": "90"}, {"return_temp_c": "90.1"}, "return_temp_c", "unusual: outside 5..90 °C"),
]


@pytest.mark.parametrize(("table", "inside", "beyond", "column", "reason"), WARNED)
def test_what_is_usual_loads_quickly_and_one_step_beyond_loads_with_a_warning(
    table: str, inside: Cells, beyond: Cells, column: str, reason: str
) -> None:
    usual, unusual = slowly(table, inside), slowly(table, beyond)

    assert (usual.accepted.height, usual.warnings.height) == (2, 0)
    assert quickly(table, inside) is not None
    assert (unusual.accepted.height, unusual.rejects.height) == (2, 0)
    assert told(unusual.warnings) == [(3, "s", column, reason)]
    assert quickly(table, beyond) is None


def ends_of(table: str) -> tuple[list[Cells], list[Cells]]:
    """A cell at each end of each range that the format names, and a cell one step beyond it."""
    ends = [
        (column.name, bound, bound + sign * (1 if column.kind == "integer" else 0.25))
        for column in JOB_LOG[table].columns
        for bound, sign in ((column.low, -1), (column.high, 1))
        if bound is not None
    ]
    return [{name: f"{end:.9g}"} for name, end, _ in ends], [{name: f"{beyond:.9g}"} for name, _, beyond in ends]


@pytest.mark.parametrize("table", JOB_LOG)
def test_the_ends_of_every_range_of_the_format_are_inside_and_a_step_beyond_is_a_fault(table: str) -> None:
    inside, beyond = ends_of(table)
    of_ranges = pl.col("reason").str.contains("^(outside|below)")

    assert not slowly(table, *inside).rejects.filter(of_ranges).height
    faults = slowly(table, *beyond).rejects.filter(of_ranges)
    expected = [(line, "s", *cells) for line, cells in enumerate(beyond, start=3)]
    assert [row[:3] for row in told(faults)] == expected


@pytest.mark.parametrize("table", ["emitters", "pipe_runs", "catches"])
def test_the_ends_of_a_range_go_the_quick_way_and_a_step_beyond_does_not(table: str) -> None:
    inside, beyond = ends_of(table)

    assert [cells for cells in inside if quickly(table, cells) is None] == []
    assert [cells for cells in beyond if quickly(table, cells) is not None] == []


@pytest.mark.parametrize(
    ("table", "cells", "reason"),
    [
        ("catches", {"catch_no": "0"}, "below 1"),
        ("jobs", {"crew_size": "7"}, "outside 1..6"),
        ("jobs", {"hose_length_m": "61"}, "outside 0.5..60 m"),
        ("jobs", {"install_year": "1929"}, "below 1930"),
        ("catches", {"mass_g": "20001"}, "outside 0..20000 g"),
    ],
)
def test_a_range_is_told_with_its_unit_but_for_counts_years_and_ph(table: str, cells: Cells, reason: str) -> None:
    assert told(slowly(table, cells).rejects) == [(3, "s", next(iter(cells)), reason)]


@pytest.mark.parametrize(
    ("cell", "number"),
    [("9007199254740991", 2**53 - 1), ("9007199254740992", None), ("1e3", 1000), ("1.0", 1), ("1.5", None)],
)
def test_whole_numbers_are_read_as_far_as_a_decimal_holds_them_exactly(cell: str, number: int | None) -> None:
    """A double holds every whole number below 2^53 (IEEE 754)."""
    found = slowly("catches", {"catch_no": cell})

    assert found.accepted["catch_no"].to_list() == [1] + ([] if number is None else [number])
    assert [row[3] for row in told(found.rejects)] == ([] if number else ["not a whole number"])
