"""A load that undoes rows of earlier ones says so: how many, and why."""

from __future__ import annotations

from pipeline.contract.findings import Finding
from pipeline.store.book import Book, read_table
from tests.load_once import load_once as load
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog

MOVED = JOB_A.replace("03-04", "04-13")


def catches(job: str, day: str, rows: int) -> list[str]:
    return [f"{job},{number},{day}T1{number}:00,magnet,{100 * number}" for number in range(1, rows + 1)]


def found(findings: tuple[Finding, ...], code: str) -> Finding:
    (one,) = [finding for finding in findings if finding.code == code]
    return one


def test_a_visit_moved_by_forty_days_tells_of_the_rows_it_shuts_out(book: Book, write_log: WriteLog) -> None:
    jobs = [JOBS_HEAD, JOB_A, "b" + JOB_A[1:]]
    rows = [CATCHES_HEAD, *catches("a", "2025-03-04", 3), *catches("b", "2025-03-04", 2)]
    load([write_log(jobs=jobs, catches=rows)], book)
    report = load([write_log(jobs=[JOBS_HEAD, MOVED])], book)

    assert [finding.code for finding in report.findings] == ["rows_replaced", "rows_shut_out"]
    out = found(report.findings, "rows_shut_out")
    assert out.sentence.startswith(
        "3 rows of earlier loads are rejected from now on, because this load moved the visit of job a "
        "(was 2025-03-04, is 2025-04-13)."
    )
    assert out.facts == {"rows": 3, "jobs": 1}

    back = found(load([write_log(jobs=[JOBS_HEAD, JOB_A])], book).findings, "rows_let_in")
    assert (back.facts["rows"], len(read_table(book.current(), "catches"))) == (3, 5)


def test_a_job_number_used_again_in_another_year_is_warned_of(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=[CATCHES_HEAD, *catches("a", "2025-03-04", 3)])], book)
    next_year = write_log(
        jobs=[JOBS_HEAD, JOB_A.replace("2025", "2024")], catches=[CATCHES_HEAD, *catches("a", "2024-03-04", 2)]
    )
    report = load([next_year], book)

    assert [f.code for f in report.findings] == ["job_numbers_used_again", "rows_replaced", "rows_shut_out"]
    again, replaced, out = report.findings
    assert "1 job number stood for a visit in another year (a: 2025-03-04 before, 2024-03-04 now)" in again.sentence
    assert replaced.facts == {"rows": 1, "tables": {"jobs": 1}}
    assert out.facts == {"rows": 3, "jobs": 1}  # the first job's three weighings lie outside the second visit


def test_a_corrected_date_at_the_turn_of_the_year_is_no_job_number_used_again(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("2025-03-04", "2024-12-30")])], book)
    report = load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("2025-03-04", "2025-01-02")])], book)
    assert [finding.code for finding in report.findings] == ["rows_replaced"]


def test_the_other_firms_job_of_that_number_is_not_meant(book: Book, write_log: WriteLog) -> None:
    head = f"firm_id,{JOBS_HEAD}"
    load([write_log(jobs=[head, f"north,{JOB_A}"])], book)
    report = load([write_log(jobs=[head, f"south,{JOB_A.replace('2025', '2024')}"])], book)
    assert report.findings == ()


def test_several_jobs_are_counted_and_the_first_named(book: Book, write_log: WriteLog) -> None:
    names = ["a", "b", "c", "d"]
    rows = [row for name in names for row in catches(name, "2025-03-04", 2)]
    load([write_log(jobs=[JOBS_HEAD, *(n + JOB_A[1:] for n in names)], catches=[CATCHES_HEAD, *rows])], book)
    report = load([write_log(jobs=[JOBS_HEAD, *(n + MOVED[1:] for n in names)])], book)

    out = found(report.findings, "rows_shut_out")
    assert out.sentence.startswith("8 rows of earlier loads are rejected from now on")
    assert "because this load moved the visit of 4 jobs (a (was 2025-03-04, is 2025-04-13), b" in out.sentence
    assert ", …)" in out.sentence


def test_a_load_that_only_adds_says_nothing(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=[CATCHES_HEAD, *catches("a", "2025-03-04", 2)])], book)
    more = load([write_log(catches=[CATCHES_HEAD, *catches("a", "2025-03-04", 3)])], book)
    assert more.findings == ()
    assert load([write_log(jobs=[JOBS_HEAD, "b" + JOB_A[1:]])], book).findings == ()
