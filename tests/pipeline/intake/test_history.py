"""History: each version of each row of a job, from which file and line, what became of it, what it changed."""

from __future__ import annotations

import pytest

from pipeline.checks.batch_sources import file_contents
from pipeline.checks.original_rows import original_rows
from pipeline.contract.findings import BadInput, BookError
from pipeline.intake.history import Change, find_any_job, history
from pipeline.intake.load_report import LoadReport
from pipeline.store.book import Book, read_table
from tests.load_once import load_once as load
from tests.pipeline.conftest import CATCHES_HEAD, HAND_WRITTEN, JOB_A, JOBS_HEAD, WriteLog


def test_a_correction_shows_both_versions_and_what_changed(book: Book, write_log: WriteLog) -> None:
    first = load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    again = [f"{JOBS_HEAD},crew_size", "b" + JOB_A[1:] + ",1", JOB_A.replace("sealed", "open_vented") + ",2"]
    second = load([write_log(jobs=again)], book)
    old, new = history(book, "own", "a")

    assert (old.state, old.batch, old.file, old.line) == ("superseded", first.batch, "jobs.csv", 2)
    assert (new.state, new.batch, new.file, new.line) == ("accepted", second.batch, "jobs.csv", 3)
    assert new.changes == (Change("crew_size", None, 2), Change("system_type", "sealed", "open_vented"))
    assert (old.values["flush_started_at"], old.changes) == ("2025-03-04T09:00", ())
    assert old.received_at <= new.received_at


def test_every_state_is_told_with_its_place(book: Book, write_log: WriteLog) -> None:
    catches = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500", "a,2,2025-03-04T11:00,sieve,90"]
    catches += ["a,3,2025-03-05T10:00,magnet,80", "a,10,2025-03-04T12:00,magnet,70"]
    load([write_log(catches=catches)], book)
    assert [v.state for v in history(book, "own", "a")] == ["waiting", "rejected", "waiting", "waiting"]

    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=[CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500"])], book)
    load([write_log(catches=[CATCHES_HEAD, "a,2,2025-03-04T11:00,strainer,90"])], book)
    found = [(v.table, v.key, v.line, v.state, v.reasons) for v in history(book, "own", "a")]
    assert found == [
        ("jobs", "a", 2, "accepted", ()),
        ("catches", "1", 2, "accepted", ()),
        ("catches", "1", 2, "duplicate", ()),
        ("catches", "2", 3, "rejected", ("trap: not one of magnet, strainer, machine_base",)),
        ("catches", "2", 2, "accepted", ()),
        ("catches", "3", 4, "rejected", ("caught_at: after the last day on site",)),
        ("catches", "10", 5, "accepted", ()),
    ]


def test_a_rejected_row_shows_its_cells_as_they_came(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("2025-03-04,", "04/03/2025,", 1)])], book)
    (version,) = history(book, *find_any_job(book, "a"))

    assert (version.state, version.values["visit_date"]) == ("rejected", "04/03/2025")
    assert "customer" not in version.values


def test_the_accepted_versions_are_the_rows_of_the_build(hand_report: tuple[Book, LoadReport]) -> None:
    book = hand_report[0]
    catches = read_table(book.current(), "catches")
    assert catches["firm_id"].nunique() == 2
    for (firm, job), rows in catches.sort_values("catch_no").groupby(["firm_id", "job_id"]):
        versions = [v for v in history(book, firm, job) if v.table == "catches" and v.state == "accepted"]
        assert [v.key for v in versions] == [str(number) for number in rows["catch_no"]]
        assert [v.values["mass_g"] for v in versions] == rows["mass_g"].tolist()


def test_two_versions_in_one_file_are_both_shown_as_rejected(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A, JOB_A.replace("sealed", "open_vented")])], book)
    states = [(v.line, v.state, v.reasons) for v in history(book, "own", "a")]
    assert states == [
        (2, "rejected", ("job_id: the same key stands with different content at line 3",)),
        (3, "rejected", ("job_id: the same key stands with different content at line 2",)),
    ]


def test_a_job_is_found_though_none_of_its_rows_counts(book: Book, write_log: WriteLog) -> None:
    with pytest.raises(BookError, match="There is no book"):
        find_any_job(book, "a")
    jobs = [f"firm_id,{JOBS_HEAD}", f"x,{JOB_A}", f"y,{JOB_A}", f"y,b/1{JOB_A[1:]}".replace("sealed", "sealled")]
    load([write_log(jobs=jobs)], book)

    assert find_any_job(book, "x/a") == ("x", "a")
    assert find_any_job(book, "b/1") == ("y", "b/1")
    with pytest.raises(BadInput, match="2 firms have a job 'a'; name one of x/a, y/a"):
        find_any_job(book, "a")
    with pytest.raises(BadInput, match="No row of a job 'c'"):
        find_any_job(book, "c")


def test_rows_as_they_came_are_found_by_line_in_any_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    path = HAND_WRITTEN / "catches.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    monkeypatch.setattr("pipeline.checks.original_rows.pieces", lambda plain: _small_pieces(plain))
    found = original_rows(file_contents(path, path.name, None).sources[0], {2, 31, len(lines)})

    for line in (2, 31, len(lines)):
        assert [cell or "" for cell in found.cells[line].values()] == lines[line - 1].split(",")
    assert set(found.cells) == {2, 31, len(lines)}


def _small_pieces(plain: object) -> object:
    from pipeline.readers.csv_chunks import PlainCsv, pieces

    assert isinstance(plain, PlainCsv)
    return pieces(plain, size=200)


def test_a_batch_that_holds_only_a_bad_row_of_the_job_is_not_forgotten(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("sealed", "sealled"), "b" + JOB_A[1:]])], book)
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    load([write_log(jobs=[JOBS_HEAD, "c" + JOB_A[1:]])], book)
    assert [version.state for version in history(book, "own", "a")] == ["rejected", "accepted"]
