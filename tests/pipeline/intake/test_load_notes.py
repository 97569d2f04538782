"""What a load says of rows that will not do what their sender meant."""

from __future__ import annotations

import pytest

from pipeline.checks.row_warnings import warnings_of_job
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from tests.pipeline.conftest import WriteLog

JOBS = "job_id,system_type,visit_date,flush_started_at,flush_ended_at"
ROW = "sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00"
CATCHES = "job_id,catch_no,caught_at,trap,mass_g"


def hints(book: Book, folder: object) -> list[str]:
    report = load([folder], book)  # type: ignore[list-item]
    return [finding.sentence for finding in report.findings if finding.code == "firm_id_in_one_table"]


def test_catches_with_a_firm_and_jobs_without_are_told(book: Book, write_log: WriteLog) -> None:
    catches = ["firm_id," + CATCHES, *(f"north,{job},1,2025-03-04T10:00,magnet,50" for job in "ab")]
    assert hints(book, write_log(jobs=[JOBS, f"a,{ROW}", f"b,{ROW}"], catches=catches)) == [
        "2 rows of catches wait for jobs of the firm 'north', but the jobs of these numbers came without firm_id: "
        "write firm_id in every table, or in none."
    ]


def test_catches_without_a_firm_and_jobs_with_are_told_once_the_jobs_come(book: Book, write_log: WriteLog) -> None:
    assert hints(book, write_log(catches=[CATCHES, "a,1,2025-03-04T10:00,magnet,50"])) == []
    assert hints(book, write_log(jobs=["firm_id," + JOBS, f"north,a,{ROW}"])) == [
        "1 row of catches came without firm_id and waits, but the jobs of these numbers are of the firm 'north': "
        "write firm_id in every table, or in none."
    ]


def test_two_firms_that_share_a_number_are_not_taken_for_one(book: Book, write_log: WriteLog) -> None:
    jobs = ["firm_id," + JOBS, f"north,a,{ROW}"]
    catches = ["firm_id," + CATCHES, "south,a,1,2025-03-04T10:00,magnet,9"]
    assert hints(book, write_log(jobs=jobs, catches=catches)) == []


@pytest.mark.parametrize(("started", "jobs"), [("2025-03-09", 0), ("2025-03-10", 1), ("2026-03-04", 1)])
def test_a_flush_long_after_its_visit_is_warned_of(book: Book, write_log: WriteLog, started: str, jobs: int) -> None:
    rows = [f"n,a,{ROW}", f"s,a,sealed,2025-03-04,{started}T09:00,{started}T15:00"]
    report = load([write_log(jobs=["firm_id," + JOBS, *rows])], book)

    assert [f.sentence for f in report.findings] == [
        "1 job begins its flush more than 5 days after visit_date: is the date right?"
    ] * jobs
    assert len(read_table(book.current(), "row_warnings")) == jobs
    assert [w.sentence for w in warnings_of_job(book.current(), "s", "a")] == [
        f"jobs.csv line 3: flush_started_at {started}T09:00 is more than 5 days after visit_date."
    ] * jobs
