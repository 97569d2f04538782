"""A batch that cannot be checked is set aside with a sentence; the others load, build and verify as if alone."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from pipeline.checks import check_batch
from pipeline.contract.findings import BadInput, BookError
from pipeline.intake import set_aside
from pipeline.intake.load import load
from pipeline.intake.set_aside import every_set_aside, is_failure, rejects_of_set_aside
from pipeline.store.book import Book, read_table
from pipeline.store.received import batches
from pipeline.verify.verify_book import verify
from tests.load_once import load_once
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog

TWO_JOBS_OUT_OF_ORDER = [
    CATCHES_HEAD,
    "J0,2,2025-03-04T10:02,magnet,50",
    "J0,1,2025-03-04T10:01,magnet,50",
    "J1,2,2025-03-04T10:02,magnet,50",
    "J1,1,2025-03-04T10:01,magnet,50",
    "J1,1,2025-03-04T10:01,magnet,60",
]
BAD = [JOBS_HEAD, "bad" + JOB_A[1:]]


class PanicException(BaseException):
    """As polars raises it when its compiled part breaks down."""

    __module__ = "pyo3_runtime"


@pytest.fixture
def breaks_on(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, BaseException], None]:
    """From now on checking a batch with a job of that number raises that error."""
    check_rows = check_batch._write_checked

    def arrange(job: str, error: BaseException) -> None:
        def broken(batch: check_batch.Batch, *rest: object) -> None:
            if any(f"\n{job}," in (batch.folder / file.stored).read_text() for file in batch.files) and rest[0]:
                raise error
            check_rows(batch, *rest)  # type: ignore[arg-type]

        monkeypatch.setattr(check_batch, "_write_checked", broken)

    return arrange


def jobs_of(book: Book) -> list[str]:
    return sorted(read_table(book.current(), "jobs")["job_id"])


def test_keys_out_of_order_in_one_job_and_doubled_in_another_load(book: Book, write_log: WriteLog) -> None:
    report = load([write_log(catches=TWO_JOBS_OUT_OF_ORDER)], book)
    assert [(each.line, each.column) for each in report.rejects] == [(5, "catch_no"), (6, "catch_no")]
    assert (report.tables["catches"].waiting, report.tables["catches"].rejected) == (3, 2)
    assert verify(book).clean


def test_rows_in_pieces_are_judged_as_rows_in_one_piece() -> None:
    from pipeline.checks.check_rows import check_rows, conflicts
    from pipeline.contract import JOB_LOG
    from pipeline.readers.text_tables import LINE, TextTable

    lines = [line.split(",") for line in TWO_JOBS_OUT_OF_ORDER]
    rows = [[str(number), *cells] for number, cells in enumerate(lines[1:], start=2)]
    whole = pl.DataFrame(rows, schema=[LINE, *lines[0]], orient="row").with_columns(pl.col(LINE).cast(pl.Int64))
    pieces = pl.concat([whole[:2], whole[2:3], whole[3:]], rechunk=False)
    assert pieces.n_chunks() == 3

    today = date(2026, 1, 1)
    checked = [check_rows(JOB_LOG["catches"], "c.csv", TextTable(each), today).accepted for each in (whole, pieces)]
    typed = pl.concat([checked[1][:2], checked[1][2:]], rechunk=False)
    found = conflicts(JOB_LOG["catches"], "c.csv", typed)
    assert found.equals(conflicts(JOB_LOG["catches"], "c.csv", checked[0]))
    assert found["line"].to_list() == [5, 6]


ERRORS = [PanicException("i < self.len()"), MemoryError()]
"""One that is no Exception at all, as a compiled library raises it, and one that is no fault of the file."""
MORE = [pytest.param(error, marks=pytest.mark.study) for error in (ZeroDivisionError("x"), BadInput("Upside down."))]


@pytest.mark.parametrize("error", [*ERRORS, *MORE], ids=lambda error: type(error).__name__)
def test_a_batch_that_fails_for_any_reason_stops_no_other(
    error: BaseException, book: Book, write_log: WriteLog, breaks_on: Callable[[str, BaseException], None]
) -> None:
    load_once([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    breaks_on("bad", error)
    report = load([write_log(jobs=BAD)], book)
    assert [finding.code for finding in report.findings] == ["batch_set_aside"]
    assert (report.tables, report.rejects) == ({}, ())
    load([write_log(jobs=[JOBS_HEAD, "c" + JOB_A[1:]])], book)

    assert jobs_of(book) == ["a", "c"]
    (listed,) = rejects_of_set_aside(book)
    assert (listed["file"], listed["table"], listed["line"]) == ("jobs.csv", "jobs", None)
    assert "could not be checked and is set aside" in str(listed["reason"])
    found = verify(book)
    assert (found.clean, [note.code for note in found.notes]) == (True, ["batch_set_aside"])


def test_the_first_batch_of_a_book_may_be_the_one_set_aside(
    book: Book, write_log: WriteLog, breaks_on: Callable[[str, BaseException], None]
) -> None:
    breaks_on("bad", PanicException("broken"))
    load([write_log(jobs=BAD)], book)
    assert jobs_of(book) == []
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    assert jobs_of(book) == ["a"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, SystemExit])
def test_a_stop_by_the_person_is_no_failure_of_the_batch(
    stop: type[BaseException], book: Book, write_log: WriteLog, breaks_on: Callable[[str, BaseException], None]
) -> None:
    breaks_on("bad", stop())
    with pytest.raises(stop):
        load([write_log(jobs=BAD)], book)
    assert every_set_aside(book) == ()
    assert not is_failure(stop())


def test_a_disk_that_is_full_is_no_fault_of_the_batch(
    book: Book, write_log: WriteLog, breaks_on: Callable[[str, BaseException], None]
) -> None:
    import errno

    breaks_on("bad", OSError(errno.ENOSPC, "No space left on device", str(book.checked / "x.parquet")))
    with pytest.raises(BookError, match="Make room on the disk"):
        load([write_log(jobs=BAD)], book)
    assert every_set_aside(book) == ()


@pytest.mark.parametrize("change", ["program", "rules"])
def test_a_batch_set_aside_is_tried_again_by_another_program_or_other_rules(
    change: str,
    book: Book,
    write_log: WriteLog,
    monkeypatch: pytest.MonkeyPatch,
    breaks_on: Callable[[str, BaseException], None],
) -> None:
    with monkeypatch.context() as patch:
        if change == "program":
            patch.setattr(set_aside, "program_digest", lambda: "older")
        else:
            patch.setattr(check_batch, "CONTRACT_VERSION", 0)
        breaks_on("bad", PanicException("broken"))
        load([write_log(jobs=BAD)], book)
        assert len(every_set_aside(book)) == 1
    monkeypatch.undo()
    report = load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)

    assert (jobs_of(book), every_set_aside(book)) == (["a", "bad"], ())
    assert "batch_set_aside" not in [finding.code for finding in report.findings]
    assert verify(book).clean


def test_the_same_files_handed_in_again_try_a_batch_set_aside_again(
    book: Book, write_log: WriteLog, monkeypatch: pytest.MonkeyPatch, breaks_on: Callable[[str, BaseException], None]
) -> None:
    bad = write_log(jobs=BAD)
    breaks_on("bad", PanicException("broken"))
    load([bad], book)
    assert not load([bad], book).is_new
    monkeypatch.undo()
    assert verify(book).findings[0].code == "set_aside_in_vain"
    report = load([bad], book)

    assert (report.is_new, report.tables["jobs"].accepted, len(batches(book))) == (True, 1, 1)
    assert (jobs_of(book), verify(book).clean) == (["bad"], True)


def test_a_received_file_that_is_gone_costs_its_own_batch_only_and_counts_again_when_restored(
    book: Book, write_log: WriteLog, tmp_path: Path
) -> None:
    load_once([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    lost = batches(book)[0].folder / "jobs.csv"
    lost.rename(tmp_path / "kept.csv")
    shutil.rmtree(book.checked)
    book.checked.mkdir()
    report = load([write_log(jobs=[JOBS_HEAD, "c" + JOB_A[1:]])], book)
    assert (jobs_of(book), [f.code for f in report.findings]) == (["c"], ["batch_set_aside"])

    (tmp_path / "kept.csv").rename(lost)
    load([write_log(jobs=[JOBS_HEAD, "d" + JOB_A[1:]])], book)
    assert (jobs_of(book), verify(book).clean) == (["a", "c", "d"], True)
