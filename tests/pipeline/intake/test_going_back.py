"""Going back to an earlier file: what a later load replaced is brought back, and only then is it received again."""

from __future__ import annotations

import json
import shutil
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.intake import load as loading
from pipeline.intake.history import history
from pipeline.store.book import Book, read_table
from pipeline.store.received import Staged, batches, receive
from pipeline.verify.verify_book import verify
from tests.load_once import load_once as load
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog

X = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500", "a,2,2025-03-04T11:00,magnet,300"]
Y = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,50", "a,2,2025-03-04T11:00,magnet,30"]


def masses(book: Book) -> list[float]:
    catches = read_table(book.current(), "catches")
    return [float(mass) for mass in catches.sort_values(["job_id", "catch_no"])["mass_g"]]


def codes(report: object) -> list[str]:
    return [finding.code for finding in report.findings]  # type: ignore[attr-defined]


@pytest.fixture
def one_job(book: Book, write_log: WriteLog) -> Book:
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    return book


def test_the_same_files_to_and_fro_always_leave_the_figures_handed_in_last(one_job: Book, write_log: WriteLog) -> None:
    x, y = write_log(catches=X), write_log(catches=Y)
    for folder, expected in ((x, [500, 300]), (y, [50, 30]), (x, [500, 300]), (y, [50, 30]), (x, [500, 300])):
        report = load([folder], one_job)
        assert (report.is_new, masses(one_job)) == (True, expected)
        assert report.tables["catches"].accepted == 2

    assert not load([x], one_job).is_new
    first, second = (batches(one_job)[place].batch_id for place in (1, 2))
    assert [b.batch_id for b in batches(one_job)][1:] == [first, second, f"{first}-2", f"{second}-2", f"{first}-3"]
    assert verify(one_job).clean


def test_it_says_why_and_what_it_replaced_in_turn(one_job: Book, write_log: WriteLog) -> None:
    x = write_log(catches=X)
    load([x], one_job)
    load([write_log(catches=[*Y[:2], X[2]])], one_job)
    report = load([x], one_job)

    assert codes(report) == ["received_again", "rows_replaced"]
    assert report.findings[0].facts["rows"] == 1
    assert report.findings[0].sentence.startswith("These files were in the book already, but 1 of their rows was repl")
    counts = report.tables["catches"]
    assert (counts.rows, counts.accepted, counts.duplicates) == (2, 1, 1)
    assert masses(one_job) == [500, 300]


def test_files_of_which_nothing_was_replaced_change_nothing(one_job: Book, write_log: WriteLog) -> None:
    x = write_log(catches=X)
    load([x], one_job)
    load([write_log(catches=[CATCHES_HEAD, "a,3,2025-03-04T12:00,magnet,7", X[1]])], one_job)  # one more, one again
    build = one_job.current()
    report = load([x], one_job)

    assert (report.is_new, one_job.current(), len(batches(one_job))) == (False, build, 3)
    assert report.tables["catches"].duplicates == 2


def test_two_files_of_one_batch_that_differ_are_no_reason_to_receive_it_again(
    one_job: Book, write_log: WriteLog
) -> None:
    both = [write_log(catches=X), write_log(catches=Y)]
    load(both, one_job)
    load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("15:00", "15:30")])], one_job)
    assert not load(both, one_job).is_new


def test_a_row_that_was_a_duplicate_when_it_came_is_brought_back_too(one_job: Book, write_log: WriteLog) -> None:
    load([write_log(catches=X)], one_job)
    again = write_log(catches=[X[0], X[2], X[1]])  # the same rows in another order: duplicates
    assert load([again], one_job).tables["catches"].duplicates == 2
    load([write_log(catches=Y)], one_job)
    load([again], one_job)
    assert masses(one_job) == [500, 300]


def test_going_back_by_a_third_file_leaves_nothing_to_bring_back(one_job: Book, write_log: WriteLog) -> None:
    x = write_log(catches=X)
    for lines in (Y, [X[0], X[2], X[1]]):
        load([x], one_job)
        load([write_log(catches=lines)], one_job)
    assert masses(one_job) == [500, 300]
    assert not load([x], one_job).is_new


def test_rows_that_wait_are_gone_back_to_as_well(book: Book, write_log: WriteLog) -> None:
    x = write_log(catches=X)
    for folder in (x, x, write_log(catches=Y), x):
        report = load([folder], book)
    assert (report.is_new, report.tables["catches"].waiting, len(batches(book))) == (True, 2, 3)
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    assert masses(book) == [500, 300]
    assert verify(book).clean


def test_rows_that_are_rejected_either_way_are_not_received_again(one_job: Book, write_log: WriteLog) -> None:
    outside = write_log(catches=[CATCHES_HEAD, "a,1,2024-03-04T10:00,magnet,500", "a,2,x,magnet,5"])
    load([outside], one_job)
    load([write_log(catches=Y)], one_job)
    report = load([outside], one_job)
    assert (report.is_new, report.tables["catches"].rejected, masses(one_job)) == (False, 2, [50, 30])


def test_a_visit_that_lay_ahead_is_received_again_once_its_day_has_come(book: Book, write_log: WriteLog) -> None:
    day = date.today()
    row = f"t,sealed,{day},{day}T09:00,{day}T15:00"
    log = write_log(jobs=[JOBS_HEAD, JOB_A, row])
    load([log], book)
    manifest = batches(book)[0].folder / "manifest.json"
    facts = json.loads(manifest.read_text(encoding="utf-8"))
    yesterday = (datetime.now() - timedelta(days=1)).isoformat(timespec="seconds")
    manifest.write_text(json.dumps({**facts, "received_at": yesterday}), encoding="utf-8")
    shutil.rmtree(book.checked)
    shutil.rmtree(book.builds)
    load([write_log(jobs=[JOBS_HEAD, "b" + JOB_A[1:]])], book)
    assert sorted(read_table(book.current(), "jobs")["job_id"]) == ["a", "b"]

    report = load([log], book)
    assert (codes(report)[0], report.findings[0].facts["rows_due"]) == ("received_again", 1)
    assert sorted(read_table(book.current(), "jobs")["job_id"]) == ["a", "b", "t"]


def test_one_firm_going_back_leaves_the_other_firms_job_of_that_number_alone(book: Book, write_log: WriteLog) -> None:
    head, jobs = f"firm_id,{CATCHES_HEAD}", [f"firm_id,{JOBS_HEAD}", f"north,{JOB_A}", f"south,{JOB_A}"]
    x = write_log(jobs=jobs, catches=[head, "north,a,1,2025-03-04T10:00,magnet,500"])
    load([x], book)
    load([write_log(catches=[head, "south,a,1,2025-03-04T10:00,magnet,40"])], book)
    assert not load([x], book).is_new
    load([write_log(catches=[head, "north,a,1,2025-03-04T10:00,magnet,9"])], book)
    assert load([x], book).is_new
    assert masses(book) == [500, 40]


def test_the_history_shows_each_receipt(one_job: Book, write_log: WriteLog) -> None:
    x = write_log(catches=X)
    for folder in (x, write_log(catches=Y), x):
        load([folder], one_job)
    first, second, third = (version for version in history(one_job, "own", "a") if version.key == "1")
    assert [v.state for v in (first, second, third)] == ["superseded", "superseded", "accepted"]
    assert third.batch == f"{first.batch}-2"
    assert [(c.column, c.before, c.after) for c in third.changes] == [("mass_g", 50.0, 500.0)]


def test_a_load_killed_after_receiving_again_is_finished_by_the_next(
    one_job: Book, write_log: WriteLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    x = write_log(catches=X)
    load([x], one_job)
    load([write_log(catches=Y)], one_job)
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.intake.load._received", _received_then_killed)
        with pytest.raises(KeyboardInterrupt):
            loading.load([x], one_job)
    assert [b.batch_id.endswith("-2") for b in batches(one_job)] == [False, False, False, True]
    assert [note.code for note in verify(one_job).notes] == ["not_checked_yet", "not_built_yet"]
    report = load([x], one_job)
    assert (report.is_new, masses(one_job), verify(one_job).clean) == (False, [500, 300], True)


def _received_then_killed(
    book: Book, staged: Staged, tables: dict[str, tuple[str, ...]], *_: object, **__: object
) -> None:
    receive(book, staged, tables, datetime.now())
    raise KeyboardInterrupt


def test_a_receipt_that_is_gone_is_missed(one_job: Book, write_log: WriteLog) -> None:
    x = write_log(catches=X)
    for folder in (x, write_log(catches=Y), x):
        load([folder], one_job)
    shutil.rmtree(batches(one_job)[1].folder)
    assert "received_missing" in [finding.code for finding in verify(one_job).findings]


def test_a_decision_carried_out_already_never_undoes_a_later_correction(one_job: Book, write_log: WriteLog) -> None:
    x, decided = write_log(catches=X), datetime.now() - timedelta(seconds=5)
    loading.load([x], one_job, unless_since=decided)
    load([write_log(catches=Y)], one_job)
    assert not loading.load([x], one_job, unless_since=decided).is_new
    assert masses(one_job) == [50, 30]
    assert loading.load([x], one_job, unless_since=datetime.now() + timedelta(seconds=5)).is_new  # decided anew
    assert masses(one_job) == [500, 300]


def test_the_same_rows_under_another_name_of_file_are_known_by_content(one_job: Book, write_log: WriteLog) -> None:
    load([write_log(catches=X)], one_job)
    folder = write_log(catches=X)
    other = Path(shutil.copytree(folder, folder.with_name("elsewhere")))
    assert not load([other], one_job).is_new
