"""One batch of two files for two firms that share a job number: which version counts, and the account of each file."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog

HEAD = f"firm_id,{CATCHES_HEAD}"
JOBS = [f"firm_id,{JOBS_HEAD},survey_ph", f"n,{JOB_A},5.5", f"s,{JOB_A},7"]
# line 2 of both files is one key of firm n, line 3 one of firm s; line 4 has two faults, line 5 waits, line 6 repeats
FIRST = ["n,a,1,2025-03-04T10:00,magnet,500", "s,a,1,2025-03-04T10:00,magnet,50", "n,a,9,2025-03-04T10:00,sieve,-1"]
FIRST += ["n,w,1,2025-03-04T10:00,magnet,7", "n,w,1,2025-03-04T10:00,magnet,7"]
SECOND = ["n,a,1,2025-03-04T10:00,magnet,400", "s,a,1,2025-03-04T10:00,magnet,50", "s,a,9,2025-03-05T00:01,magnet,3"]


@pytest.fixture
def folders(write_log: WriteLog) -> list[Path]:
    return [write_log(jobs=JOBS, catches=[HEAD, *FIRST]), write_log(catches=[HEAD, *SECOND])]


def test_of_two_files_of_one_batch_the_later_version_counts_and_each_account_adds_up(
    folders: list[Path], book: Book
) -> None:
    report = load(folders, book)
    kept = read_table(book.current(), "catches")
    assert list(zip(kept["firm_id"], kept["mass_g"], strict=True)) == [("n", 400.0), ("s", 50.0)]

    states = ("accepted", "rejected", "duplicates", "waiting", "superseded")
    ledger = read_table(book.current(), "ledger").set_index(["table_name", "rows"])
    assert ledger.loc[("catches", 5), list(states)].tolist() == [1, 1, 1, 1, 1]
    assert ledger.loc[("catches", 3), list(states)].tolist() == [1, 1, 1, 0, 0]
    assert [(r.line, r.column) for r in report.rejects if r.table == "catches"] == [
        (4, "mass_g"),
        (4, "trap"),
        (4, "caught_at"),
    ]


def test_the_same_files_the_other_way_round_are_the_same_batch(folders: list[Path], book: Book) -> None:
    first = load(folders, book)
    again = load(folders[::-1], book)
    assert (again.is_new, again.batch, again.build) == (False, first.batch, first.build)


def test_a_warning_is_told_of_its_own_file_and_job_where_others_stand_on_that_line(
    book: Book, write_log: WriteLog
) -> None:
    """Lines 2 and 3 in each of three files; acid at survey in three rows, of which one is replaced by the last file."""
    late = write_log(jobs=[JOBS[0], f"n,b{JOB_A[1:]},7", f"s,b{JOB_A[1:]},5.1"])
    load([write_log(jobs=JOBS), late], book)
    load([write_log(jobs=[JOBS[0], f"n,{JOB_A},8", f"s,{JOB_A},7"])], book)
    found = read_table(book.current(), "row_warnings")
    assert list(zip(found["firm_id"], found["job_id"], found["line"], found["value"], strict=True)) == [
        ("s", "b", 3, "5.1")
    ]


def test_a_firm_that_renews_its_job_leaves_the_other_firms_job_of_that_number_alone(
    book: Book, write_log: WriteLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Loaded into the build before it, not built whole: rows of both firms in every core table are counted by hand."""
    monkeypatch.setattr("pipeline.renew.LARGEST_SHARE", 10.0)
    emitters = ["firm_id,job_id,emitter_no,length_mm", "n,a,1,500", "s,a,1,600"]
    back = ["firm_id,job_id,called_back_on,cause", "n,a,2025-03-09,leak", "s,a,2025-03-08,noise"]
    catches = [HEAD, "n,a,1,2025-03-04T10:00,magnet,500", "s,a,1,2025-03-04T10:00,magnet,50"]
    load([write_log(jobs=JOBS, emitters=emitters, catches=catches, callbacks=back)], book)
    monkeypatch.setattr("pipeline.renew.build_whole", lambda *_: pytest.fail("built whole"))
    load([write_log(catches=[HEAD, "s,a,1,2025-03-04T10:00,magnet,30", "s,a,2,2025-03-04T11:00,magnet,8"])], book)
    monkeypatch.undo()

    kept = read_table(book.current(), "catches")
    assert list(zip(kept["firm_id"], kept["mass_g"], strict=True)) == [("n", 500.0), ("s", 30.0), ("s", 8.0)]
    for table in ("jobs", "emitters", "callbacks", "ftr_volume", "ftr_quote", "ftr_outcome", "ftr_callback"):
        assert list(read_table(book.current(), table)["firm_id"]) == ["n", "s"], table
    assert read_table(book.current(), "ftr_outcome")["magnetite_kg"].tolist() == [0.25, 0.019]
    assert verify(book).clean
