"""Loading: every row ends in one state, the same files twice change nothing, the newest version counts."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import polars as pl
import pytest

from pipeline.contract.findings import BadInput, BookError
from pipeline.intake.load import book_lock
from pipeline.intake.load_report import LoadReport
from pipeline.store.book import Book, read_table
from tests.load_once import load_once as load
from tests.pipeline.conftest import CATCHES_HEAD, HAND_WRITTEN, JOB_A, JOBS_HEAD, WriteLog

Counts = tuple[int, int, int, int, int, int]


def counts(report: LoadReport, table: str) -> Counts:
    c = report.tables[table]
    return c.rows, c.accepted, c.rejected, c.duplicates, c.waiting, c.superseded


def test_exactly_the_five_mistakes_are_rejected_at_their_lines(hand_report: tuple[Book, LoadReport]) -> None:
    found = {(r.file, r.line, r.column, r.value) for r in hand_report[1].rejects}

    assert found == {
        ("jobs.csv", 8, "crew_size", "0"),
        ("jobs.csv", 11, "flush_ended_at", "2024-06-12T10:15"),
        ("emitters.csv", 15, "length_mm", "-1200"),
        ("catches.csv", 31, "trap", "sieve"),
        ("catches.csv", 37, "caught_at", "2024-06-27T15:30"),
    }


def test_every_row_ends_in_exactly_one_state(hand_report: tuple[Book, LoadReport]) -> None:
    lines = {path.stem: len(path.read_text(encoding="utf-8").splitlines()) - 1 for path in HAND_WRITTEN.glob("*.csv")}

    for table in hand_report[1].tables:
        rows, *states = counts(hand_report[1], table)
        assert rows == lines[table]
        assert sum(states) == rows


def test_the_same_files_twice_change_nothing(book: Book) -> None:
    first = load([HAND_WRITTEN], book)
    before = {path: path.stat().st_mtime_ns for path in book.builds.iterdir()}
    second = load([HAND_WRITTEN], book)

    assert (second.batch, second.build, second.is_new) == (first.batch, first.build, False)
    assert counts(second, "jobs") == (12, 0, 2, 10, 0, 0)
    assert {path: path.stat().st_mtime_ns for path in book.builds.iterdir()} == before
    assert len([p for p in book.received.iterdir()]) == 1


def test_a_correction_counts_and_the_old_version_stays_in_the_ledger(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    report = load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("sealed", "open_vented")])], book)
    ledger = read_table(book.current(), "ledger")

    assert counts(report, "jobs") == (1, 1, 0, 0, 0, 0)
    assert ledger["superseded"].tolist() == [1, 0]
    assert read_table(book.current(), "jobs")["system_type"].tolist() == ["open_vented"]


def test_a_waiting_row_counts_once_its_job_arrives(book: Book, write_log: WriteLog) -> None:
    catches = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500"]
    first = load([write_log(catches=catches)], book)
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)

    assert counts(first, "catches") == (1, 0, 0, 0, 1, 0)
    assert [finding.code for finding in first.findings] == ["rows_waiting"]
    assert read_table(book.current(), "catches")["mass_g"].tolist() == [500.0]


def test_a_waiting_row_counts_once_its_job_is_corrected(book: Book, write_log: WriteLog) -> None:
    catches = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500"]
    load([write_log(jobs=[JOBS_HEAD, JOB_A.replace("sealed", "sealled")], catches=catches)], book)
    assert read_table(book.current(), "catches").empty

    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    assert len(read_table(book.current(), "catches")) == 1


def test_two_versions_in_one_file_are_both_rejected(book: Book, write_log: WriteLog) -> None:
    report = load([write_log(jobs=[JOBS_HEAD, JOB_A, JOB_A.replace("sealed", "open_vented")])], book)

    assert counts(report, "jobs") == (2, 0, 2, 0, 0, 0)
    assert [(r.line, r.reason) for r in report.rejects] == [
        (2, "the same key stands with different content at line 3"),
        (3, "the same key stands with different content at line 2"),
    ]


def test_a_row_repeated_in_one_file_is_a_duplicate(book: Book, write_log: WriteLog) -> None:
    report = load([write_log(jobs=[JOBS_HEAD, JOB_A, JOB_A])], book)
    assert counts(report, "jobs") == (2, 1, 0, 1, 0, 0)


def test_a_row_of_an_earlier_load_handed_in_with_new_ones_is_a_duplicate(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    report = load([write_log(jobs=[JOBS_HEAD, JOB_A, "b" + JOB_A[1:]])], book)
    assert counts(report, "jobs") == (2, 1, 0, 1, 0, 0)


def test_unknown_and_private_columns_are_reported_and_not_loaded(book: Book, write_log: WriteLog) -> None:
    report = load([write_log(jobs=[JOBS_HEAD + ",customer_phone,mood", JOB_A + ",0000,good"])], book)

    assert [(f.code, f.facts["column"]) for f in report.findings] == [
        ("private_column", "customer_phone"),
        ("unknown_column", "mood"),
    ]
    assert "customer_phone" not in read_table(book.current(), "jobs").columns


def test_unusual_values_load_with_a_warning_on_the_row(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD + ",survey_ph", JOB_A + ",5.1"])], book)
    (warning,) = read_table(book.current(), "row_warnings").to_dict("records")
    assert (warning["line"], warning["column_name"], warning["value"]) == (2, "survey_ph", "5.1")


def test_received_files_are_kept_to_the_byte_with_a_manifest(hand_report: tuple[Book, LoadReport]) -> None:
    book, report = hand_report
    folder = book.received / report.batch
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))

    for file in manifest["files"]:
        assert (folder / file["stored"]).read_bytes() == (HAND_WRITTEN / file["name"]).read_bytes()
    assert {file["name"]: file["tables"] for file in manifest["files"]}["jobs.csv"] == ["jobs"]


def test_csv_parquet_and_xlsx_of_the_same_log_give_the_same_tables(tmp_path: Path) -> None:
    texts = {p.stem: pl.read_csv(p, infer_schema=False) for p in HAND_WRITTEN.glob("*.csv")}
    (tmp_path / "parquet").mkdir()
    for name, frame in texts.items():
        frame.write_parquet(tmp_path / "parquet" / f"{name}.parquet")
    workbook = tmp_path / "log.xlsx"
    import xlsxwriter

    with xlsxwriter.Workbook(str(workbook)) as sheets:
        for name, frame in texts.items():
            frame.write_excel(sheets, worksheet=name)
    results: list[pd.DataFrame] = []
    for source in (HAND_WRITTEN, tmp_path / "parquet", workbook):
        book = Book(tmp_path / f"book{len(results)}")
        load([source], book)
        results.append(read_table(book.current(), "ftr_outcome"))

    pd.testing.assert_frame_equal(results[0], results[1])
    pd.testing.assert_frame_equal(results[0], results[2])


def _missing_path(folder: Path) -> Path:
    return folder / "nowhere"


def _empty_folder(folder: Path) -> Path:
    (folder / "empty").mkdir()
    return folder / "empty"


def _no_table(folder: Path) -> Path:
    (folder / "holiday.txt").write_text("sand", encoding="utf-8")
    return folder / "holiday.txt"


def _binary(folder: Path) -> Path:
    (folder / "jobs.csv").write_bytes(bytes(range(256)))
    return folder / "jobs.csv"


def _broken_workbook(folder: Path) -> Path:
    (folder / "jobs.xlsx").write_bytes(b"PK no zip")
    return folder / "jobs.xlsx"


def _missing_column(folder: Path) -> Path:
    (folder / "jobs.csv").write_text("job_id,visit_date\na,2025-03-04\n", encoding="utf-8")
    return folder / "jobs.csv"


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (_missing_path, "is not there"),
        (_empty_folder, "holds no table"),
        (_no_table, "is no table of the job log"),
        (_binary, "jobs.csv"),
        (_broken_workbook, "no readable"),
        (_missing_column, "has no column 'system_type', 'flush_started_at', 'flush_ended_at'"),
    ],
)
def test_what_cannot_be_loaded_is_refused_in_a_sentence_and_nothing_is_received(
    make: Callable[[Path], Path], sentence: str, tmp_path: Path, book: Book
) -> None:
    with pytest.raises(BadInput, match=sentence):
        load([make(tmp_path)], book)
    assert not book.received.exists() or not list(book.received.iterdir())


def test_a_folder_with_other_things_in_it_is_not_made_a_book(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "one.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(BookError, match="other things in it"):
        load([HAND_WRITTEN], Book(tmp_path / "letters"))


@pytest.mark.parametrize("names", ["ab", pytest.param("abc", marks=pytest.mark.study)])
def test_loads_at_once_all_succeed(names: str, tmp_path: Path, write_log: WriteLog) -> None:
    """Two find a load that does not wait for its turn; a third finds a turn that is given away twice."""
    logs = [write_log(jobs=[JOBS_HEAD, f"{name}{JOB_A[1:]}"]) for name in names]
    code = "import sys; from pathlib import Path; from pipeline.intake.load import load; "
    code += "from pipeline.store.book import Book; load([Path(sys.argv[1])], Book(Path(sys.argv[2])))"
    running = [subprocess.Popen([sys.executable, "-c", code, str(log), str(tmp_path / "book")]) for log in logs]

    assert [process.wait(timeout=120) for process in running] == [0] * len(names)
    assert sorted(read_table(Book(tmp_path / "book").current(), "jobs")["job_id"]) == list(names)


def test_a_load_that_does_not_get_its_turn_is_told(
    book: Book, write_log: WriteLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    book.create()
    monkeypatch.setattr("pipeline.intake.load.LOCK_SECONDS", 0.2)
    with book_lock(book), pytest.raises(BookError, match="Another load has held the book"):
        load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    assert load([write_log(jobs=[JOBS_HEAD, JOB_A])], book).is_new
