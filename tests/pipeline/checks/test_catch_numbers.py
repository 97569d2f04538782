"""Weighings without a number: numbered by time, trap and state, so that the same row is the same weighing again."""

from __future__ import annotations

from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from tests.pipeline.conftest import CATCHES_HEAD, WriteLog

JOBS = "firm_id,job_id,system_type,visit_date,flush_started_at,flush_ended_at"
ROW = "sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00"
HEAD = "firm_id,job_id,caught_at,trap,weighed,mass_g"


def numbers(book: Book) -> dict[tuple[str, int], float]:
    rows = read_table(book.current(), "catches")
    return {(row.firm_id, row.catch_no): row.mass_g for row in rows.itertuples()}


def test_numbers_come_from_the_row_alone(book: Book, write_log: WriteLog) -> None:
    catches = [
        HEAD,
        "n,a,2025-03-04T11:15,magnet,,400",
        "s,a,2025-03-04T11:15,magnet,wet,300",
        "n,a,2025-03-04T11:15,strainer,,90",
        "n,a,2025-03-04T11:15,Machine_Base,,20",
        "n,a,2025-03-04T11:15,magnet,DRY,210",
        "n,a,2025-03-04T10:00:30,magnet,,50",
    ]
    load([write_log(jobs=[JOBS, f"n,a,{ROW}", f"s,a,{ROW}"], catches=catches)], book)

    assert numbers(book) == {
        ("n", 25030411150): 400,
        ("s", 25030411150): 300,
        ("n", 25030411152): 90,
        ("n", 25030411154): 20,
        ("n", 25030411151): 210,
        ("n", 2503041000300): 50,
    }


def test_later_weighings_of_a_job_in_another_file_take_no_earlier_ones_place(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS, f"n,a,{ROW}"], catches=[HEAD, "n,a,2025-03-04T10:00,magnet,,50"])], book)
    again = [HEAD, "n,a,2025-03-04T12:00,magnet,,30", "n,a,2025-03-04T10:00,magnet,,50"]

    report = load([write_log(catches=again)], book)

    assert (report.tables["catches"].accepted, report.tables["catches"].duplicates) == (1, 1)
    assert sorted(numbers(book).values()) == [30, 50]


def test_two_masses_of_one_trap_at_one_minute_are_rejected_with_a_reason(book: Book, write_log: WriteLog) -> None:
    catches = [HEAD, "n,a,2025-03-04T10:00,magnet,,50", "n,a,2025-03-04T10:00,magnet,wet,60"]

    report = load([write_log(jobs=[JOBS, f"n,a,{ROW}"], catches=catches)], book)

    assert report.tables["catches"].rejected == 2


def test_a_number_that_is_there_stays_and_a_time_that_is_none_is_what_is_told(book: Book, write_log: WriteLog) -> None:
    catches = ["firm_id," + CATCHES_HEAD, "n,a,7,2025-03-04T10:00,magnet,50", "n,a,,tea time,magnet,60"]

    report = load([write_log(jobs=[JOBS, f"n,a,{ROW}"], catches=catches)], book)

    assert numbers(book) == {("n", 7): 50}
    assert {(each.column, each.reason) for each in report.rejects} == {
        ("caught_at", "not a local time like 2031-03-04T09:15")
    }
