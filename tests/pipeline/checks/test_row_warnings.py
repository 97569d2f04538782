"""Warnings: rows that count but do not agree with the rest of their job."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.checks.row_warnings import warnings_of_job
from pipeline.intake.load import load
from pipeline.intake.load_report import LoadReport
from pipeline.store.book import Book, read_table
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog

EMITTERS = ["job_id,emitter_no", "a,1", "a,2"]
CATCHES = f"{CATCHES_HEAD},weighed,focus_emitter_no"
READINGS = "job_id,read_at,focus_emitter_no,flow_l_min"
DAY = "2025-03-04T"
Found = set[tuple[str, str, str, str | None, str]]

# catches by job: time, grams, how weighed, emitter in focus
WEIGHED = {
    "outside": [(at, 50, "", "") for at in ("08:59", "09:00", "15:00", "16:00", "16:01")],
    "backwards": [(at, 50, "", "") for at in ("10:00", "11:00", "10:30", "12:00")],
    "focus": [("10:00", 50, "", "2"), ("11:00", 50, "", "7")],
    **{f"{wet}-200": [("10:00", wet, "wet", ""), ("10:00", 200, "dry", "")] for wet in (260, 540, 250, 560, 199)},
}
QUARTERS = [f"{9 + i // 4:02d}:{i % 4 * 15:02d}" for i in range(8)]
# readings by job: time, emitter in focus, flow
READ = {
    "fast": [("10:00", "", 42), ("10:15", "", 43), ("12:30", "", 55)],
    "sides": [(at, "", 20) for at in ("07:00", "07:59", "08:00", "12:00", "16:00", "16:01")],
    "14:00": [(at, "", 20) for at in (*QUARTERS, "11:00", "14:00")],
    "14:01": [(at, "", 20) for at in (*QUARTERS, "11:00", "14:01")],
    "focus": [("10:00", "3", 20), ("10:15", "3", 20), ("10:30", "1", 20)],
}


@pytest.fixture(scope="module")
def found(one_load: Callable[..., tuple[Book, LoadReport]]) -> Callable[[str], Found]:
    """The warnings of one of these jobs, each with emitters 1 and 2 and, but for `fast`, a machine of unknown flow."""
    names = sorted({*WEIGHED, *READ})
    book = one_load(
        jobs=[f"{JOBS_HEAD},machine_max_flow_l_min", *(f"{n}{JOB_A[1:]},{40 if n == 'fast' else ''}" for n in names)],
        emitters=[EMITTERS[0], *(f"{name},{number}" for name in names for number in (1, 2))],
        catches=[
            CATCHES,
            *(
                f"{name},{number},{DAY}{at},magnet,{grams},{way},{focus}"
                for name, rows in WEIGHED.items()
                for number, (at, grams, way, focus) in enumerate(rows, start=1)
            ),
        ],
        readings=[READINGS, *(f"{n},{DAY}{at},{focus},{flow}" for n, rows in READ.items() for at, focus, flow in rows)],
    )[0]
    return lambda job: marks(book, job)


def marks(book: Book, job: str) -> Found:
    frame = read_table(book.current(), "job_warnings").astype(object)
    frame = frame.where(frame.notna(), None)[frame["job_id"] == job]
    columns = ["table_name", "row_key", "column_name", "value", "reason"]
    return set(frame[columns].itertuples(index=False, name=None))


def test_weighings_outside_the_flush_are_marked_an_hour_after_it_allowed(found: Callable[[str], Found]) -> None:
    assert found("outside") == {
        ("catches", "1", "caught_at", "2025-03-04T08:59", "before flush_started_at"),
        ("catches", "5", "caught_at", "2025-03-04T16:01", "more than 60 minutes after flush_ended_at"),
    }


def test_a_clock_that_runs_backwards_between_weighings_is_marked(found: Callable[[str], Found]) -> None:
    assert found("backwards") == {
        ("catches", "3", "caught_at", "2025-03-04T10:30", "before the weighing with the number before it")
    }


@pytest.mark.parametrize(
    ("wet", "dry", "reason"),
    [
        ("260", "200", None),
        ("540", "200", None),
        ("250", "200", "wet / dry mass is 1.25, outside 1.3..2.7"),
        ("560", "200", "wet / dry mass is 2.8, outside 1.3..2.7"),
        ("199", "200", "heavier than the wet mass of the same trap and time"),
    ],
)
def test_a_dry_mass_that_its_wet_twin_does_not_bear_out_is_marked(
    wet: str, dry: str, reason: str | None, found: Callable[[str], Found]
) -> None:
    assert found(f"{wet}-{dry}") == ({("catches", "2", "mass_g", "200.0", reason)} if reason else set())


def test_a_flow_that_the_machine_cannot_give_is_marked_once_with_the_highest(found: Callable[[str], Found]) -> None:
    reason = "above the machine's maximum of 40.0 L/min (readings: 2, the highest is shown)"
    assert found("fast") == {("readings", "2025-03-04T10:15", "flow_l_min", "55.0", reason)}


def test_readings_outside_the_flush_are_marked_once_a_side(found: Callable[[str], Found]) -> None:
    early = "more than 60 minutes before flush_started_at (readings: 2)"
    late = "more than 60 minutes after flush_ended_at (readings: 1)"
    assert found("sides") == {
        ("readings", "2025-03-04T07:00", "read_at", "2025-03-04T07:00", early),
        ("readings", "2025-03-04T16:01", "read_at", "2025-03-04T16:01", late),
    }


@pytest.mark.parametrize(("last", "is_marked"), [("14:00", False), ("14:01", True)])
def test_a_clock_that_jumps_hours_ahead_within_a_day_is_marked(
    last: str, is_marked: bool, found: Callable[[str], Found]
) -> None:
    reason = "more than 3 hours after the reading before it on that day"
    expected = {("readings", f"2025-03-04T{last}", "read_at", f"2025-03-04T{last}", reason)}
    assert found(last) == (expected if is_marked else set())


def test_the_flow_on_an_emitter_that_is_not_there_is_marked(found: Callable[[str], Found]) -> None:
    reason = "not among the emitters of the job"
    assert found("focus") == {
        ("catches", "2", "focus_emitter_no", "7", reason),
        ("readings", "2025-03-04T10:00", "focus_emitter_no", "3", f"{reason} (readings: 2)"),
    }


def test_catches_without_any_emitter_are_marked_on_the_job_and_the_mark_goes_when_they_arrive(
    book: Book, write_log: WriteLog
) -> None:
    catches = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,50"]
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=catches)], book)
    assert marks(book, "a") == {("jobs", "a", "", None, "has catches but no emitters")}

    load([write_log(emitters=EMITTERS)], book)
    assert marks(book, "a") == set()


def test_the_warnings_of_one_job_are_sentences(book: Book, write_log: WriteLog) -> None:
    jobs = [f"{JOBS_HEAD},survey_ph", f"{JOB_A},5.1", f"b{JOB_A[1:]},7"]
    catches = [CATCHES_HEAD, "a,1,2025-03-04T08:00,magnet,50"]
    load([write_log(jobs=jobs, catches=catches)], book)

    assert [each.sentence for each in warnings_of_job(book.current(), "own", "a")] == [
        "Weighing 1: caught_at 2025-03-04T08:00 is before flush_started_at.",
        "The job a has catches but no emitters.",
        "jobs.csv line 2: survey_ph 5.1 is unusual: outside 6..11.",
    ]
    assert warnings_of_job(book.current(), "own", "b") == ()


def test_few_jobs_of_a_simulated_firm_are_marked(small_book: Book, small_logs: Path) -> None:
    jobs = len((small_logs / "jobs.csv").read_text(encoding="utf-8").splitlines()) - 1
    marked = read_table(small_book.current(), "job_warnings")["job_id"].nunique()
    assert marked <= 0.1 * jobs
