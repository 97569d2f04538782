"""The rejects workbook: the row as it came, the bad cell marked; mended and handed back, the rejects shrink."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from pipeline.contract.findings import BadInput
from pipeline.intake.load_report import LoadReport
from pipeline.intake.open_rejects import open_rejects
from pipeline.intake.reject_workbook import write_reject_workbook
from pipeline.store.book import Book, read_table
from tests.load_once import load_once as load
from tests.pipeline.conftest import CATCHES_HEAD, HAND_WRITTEN, JOB_A, JOBS_HEAD, WriteLog

Mend = Callable[[str, dict[str, str | None]], None]
Sheets = dict[str, list[dict[str, str | None]]]


def sheets_of(path: Path) -> Sheets:
    frames = pl.read_excel(path, sheet_id=0, infer_schema_length=0)
    return {name: list(frame.cast(pl.String).iter_rows(named=True)) for name, frame in frames.items()}


def mended(path: Path, mend: Mend) -> Path:
    """The workbook with some cells changed, as a person would."""
    out = path.with_name(f"mended-{path.name}")
    with xlsxwriter.Workbook(str(out)) as workbook:
        for table, rows in sheets_of(path).items():
            sheet = workbook.add_worksheet(table)
            sheet.write_row(0, 0, list(rows[0]))
            for number, row in enumerate(rows, start=1):
                mend(table, row)
                sheet.write_row(number, 0, list(row.values()))
    return out


def places(book: Book) -> list[tuple[str, str, int]]:
    return [(row.table, row.file, row.line) for row in open_rejects(book)]


def test_each_reject_stands_as_it_came_with_the_reason_beside_it(
    tmp_path: Path, hand_report: tuple[Book, LoadReport]
) -> None:
    out = tmp_path / "rejects.xlsx"
    assert write_reject_workbook(hand_report[0], out) == 5
    sheets = sheets_of(out)

    assert {name: len(rows) for name, rows in sheets.items()} == {"jobs": 2, "emitters": 1, "catches": 2}
    came = (HAND_WRITTEN / "catches.csv").read_text(encoding="utf-8").splitlines()[30].split(",")
    first = dict(sheets["catches"][0])
    place, reason = first.pop("line"), first.pop("reason")
    assert [cell or "" for cell in first.values()] == came
    assert place == f"catches.csv:31@{hand_report[1].batch[:8]}"
    assert reason == "trap: not one of magnet, strainer, machine_base"


def test_the_bad_cell_and_no_other_is_marked(tmp_path: Path, hand_report: tuple[Book, LoadReport]) -> None:
    import zipfile

    out = tmp_path / "rejects.xlsx"
    write_reject_workbook(hand_report[0], out)
    with zipfile.ZipFile(out) as archive:
        sheet = archive.read("xl/worksheets/sheet2.xml").decode()
    styled = [cell for cell in sheet.split("<c ")[1:] if ' s="2"' in cell.split(">")[0]]
    headings = list(sheets_of(out)["emitters"][0])
    column = "ABCDEFGHIJKLMNOP"[headings.index("length_mm")]
    assert [cell.split('"')[1] for cell in styled] == [f"{column}2"]


def test_mended_and_handed_back_the_rejects_shrink(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    load([HAND_WRITTEN], book)
    write_reject_workbook(book, tmp_path / "first.xlsx")

    def mend(table: str, row: dict[str, str | None]) -> None:
        cells = {"jobs": ("crew_size", "2"), "emitters": ("length_mm", "1200"), "catches": ("trap", "magnet")}
        row.update([cells[table]])

    report = load([mended(tmp_path / "first.xlsx", mend)], book)
    assert report.findings == ()
    assert {name: (c.rows, c.accepted, c.rejected) for name, c in report.tables.items()} == {
        "jobs": (2, 1, 1),
        "emitters": (1, 1, 0),
        "catches": (2, 1, 1),
    }
    shown = "mended-first.xlsx"
    assert places(book) == [("catches", shown, 3), ("jobs", shown, 3)]
    assert len(read_table(book.current(), "rejects")) == 7

    assert write_reject_workbook(book, tmp_path / "second.xlsx") == 2
    times = {"jobs": {"flush_ended_at": "2024-06-12T13:00"}, "catches": {"caught_at": "2024-06-26T15:30"}}
    load([mended(tmp_path / "second.xlsx", lambda table, row: row.update(times[table]))], book)
    assert places(book) == []
    assert write_reject_workbook(book, tmp_path / "third.xlsx") == 0
    assert not (tmp_path / "third.xlsx").exists()


def test_rows_whose_key_cannot_be_read_are_known_again_by_their_place(
    tmp_path: Path, book: Book, write_log: WriteLog
) -> None:
    catches = [CATCHES_HEAD, "a,one,2025-03-04T10:00,magnet,500", ",2,2025-03-04T11:00,magnet,90"]
    catches += ["a,3,2025-03-04T12:00,magnet,80,grey,more"]
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=catches)], book)
    assert len(places(book)) == 3
    write_reject_workbook(book, tmp_path / "rejects.xlsx")

    def mend(table: str, row: dict[str, str | None]) -> None:
        row["job_id"] = "a"
        row["catch_no"] = "1" if row["catch_no"] == "one" else row["catch_no"]
        row["mass_g"] = (row["mass_g"] or "").split(",")[0]

    load([mended(tmp_path / "rejects.xlsx", mend)], book)
    assert places(book) == []
    assert read_table(book.current(), "catches")["mass_g"].tolist() == [500.0, 90.0, 80.0]


def test_the_whole_file_mended_settles_its_rejects_too(book: Book, write_log: WriteLog) -> None:
    bad, good = JOB_A.replace("sealed", "sealled"), "b" + JOB_A[1:]
    load([write_log(jobs=[JOBS_HEAD, bad, good.replace("sealed", "open")])], book)
    assert len(places(book)) == 2
    load([write_log(jobs=[JOBS_HEAD, JOB_A, good.replace("sealed", "shut")])], book)

    assert places(book) == [("jobs", "jobs.csv", 3)]
    assert [row.faults[0].value for row in open_rejects(book)] == ["shut"]


def test_another_row_of_the_same_job_settles_nothing(book: Book, write_log: WriteLog) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=[CATCHES_HEAD, "a,1,2025-03-04T10:00,sieve,500"])], book)
    load([write_log(catches=[CATCHES_HEAD, "a,2,2025-03-04T10:00,magnet,500"])], book)
    assert places(book) == [("catches", "catches.csv", 2)]


def test_text_like_a_formula_stays_text_and_private_columns_stay_behind(
    tmp_path: Path, book: Book, write_log: WriteLog
) -> None:
    catches = [f"{CATCHES_HEAD},note,customer_phone", "a,1,2025-03-04T10:00,sieve,500,=1+1,000"]
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=catches)], book)
    write_reject_workbook(book, tmp_path / "rejects.xlsx")
    (row,) = sheets_of(tmp_path / "rejects.xlsx")["catches"]

    assert row["note"] == "=1+1"
    assert "customer_phone" not in row


def test_the_rejects_of_one_batch_can_be_written_and_bad_names_are_told(
    tmp_path: Path, hand_report: tuple[Book, LoadReport]
) -> None:
    book, report = hand_report
    assert write_reject_workbook(book, tmp_path / "one.xlsx", report.batch) == 5
    with pytest.raises(BadInput, match="not overwritten"):
        write_reject_workbook(book, tmp_path / "one.xlsx")
    with pytest.raises(BadInput, match=r"must end in \.xlsx"):
        write_reject_workbook(book, tmp_path / "one.csv")
    with pytest.raises(BadInput, match="There is no batch 'x'"):
        write_reject_workbook(book, tmp_path / "two.xlsx", "x")


def test_a_job_whose_id_is_hidden_is_known_again(tmp_path: Path, book: Book, write_log: WriteLog) -> None:
    job = JOB_A.replace("a,", "ann@example.org,", 1)
    load([write_log(jobs=[JOBS_HEAD, job.replace("sealed", "sealled")])], book)
    load([write_log(jobs=[JOBS_HEAD, job])], book)
    assert places(book) == []
