"""Which files of a folder are tables, how files of one name are told apart, and what is said of the others."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from tests.pipeline.conftest import JOBS_HEAD

OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def jobs(job: str, year: str = "2024") -> str:
    return f"{JOBS_HEAD}\n{job},sealed,{year}-03-04,{year}-03-04T09:00,{year}-03-04T12:00\n"


def test_a_text_file_is_a_table_and_a_note_beside_it_is_left_aside(tmp_path: Path, book: Book) -> None:
    (tmp_path / "jobs.txt").write_text(jobs("T1").replace(",", "\t"), encoding="utf-8")
    (tmp_path / "read me.txt").write_text("Dear reader, these are ours,\nwith thanks, and greetings, yours", "utf-8")

    report = load([tmp_path], book)

    assert report.tables["jobs"].accepted == 1
    (finding,) = report.findings
    assert finding.sentence == "read me.txt is no table of the job log and was left aside."


@pytest.mark.parametrize("name", ["jobs.xls", "Jobs.XLSB", "jobs.xlsm"])
def test_an_old_workbook_is_refused_with_the_way_to_save_it(name: str, tmp_path: Path, book: Book) -> None:
    (tmp_path / name).write_bytes(OLD)

    with pytest.raises(BadInput, match=f"{name} is a workbook of a kind that is not read; .* save it as XLSX"):
        load([tmp_path / name], book)


def test_an_old_workbook_beside_tables_is_left_aside_with_the_way_to_save_it(tmp_path: Path, book: Book) -> None:
    (tmp_path / "jobs.csv").write_text(jobs("T1"), encoding="utf-8")
    (tmp_path / "catches.xls").write_bytes(OLD)
    with zipfile.ZipFile(tmp_path / "log.zip", "w") as archive:
        archive.write(tmp_path / "jobs.csv", "jobs.csv")
        archive.write(tmp_path / "catches.xls", "catches.xls")

    folder = load([tmp_path / "jobs.csv", tmp_path / "log.zip"], book)

    (finding,) = folder.findings
    assert finding.sentence.startswith("log.zip/catches.xls was left aside: it is a workbook of a kind that is not")


def test_files_of_one_name_in_two_folders_are_told_apart_by_their_folder(tmp_path: Path, book: Book) -> None:
    for year in ("2024", "2025"):
        (tmp_path / year).mkdir()
        (tmp_path / year / "jobs.csv").write_text(jobs(f"T{year}", year), encoding="utf-8")
    with (tmp_path / "2025" / "jobs.csv").open("a", encoding="utf-8") as file:
        file.write("T9,wood_stove,2025-03-04,2025-03-04T09:00,2025-03-04T12:00\n")

    report = load([tmp_path], book)

    told = [(each.file, each.counts.rows, each.counts.accepted, each.counts.rejected) for each in report.files]
    assert told == [("2024/jobs.csv", 1, 1, 0), ("2025/jobs.csv", 2, 1, 1)]
    assert (report.tables["jobs"].rows, report.tables["jobs"].accepted) == (3, 2)
    ledger = read_table(book.current(), "ledger")
    rows = ledger[["file", "rows", "accepted", "rejected"]].itertuples(index=False, name=None)
    assert sorted(rows) == [("2024/jobs.csv", 1, 1, 0), ("2025/jobs.csv", 2, 1, 1)]
    assert set(read_table(book.current(), "jobs")["job_id"]) == {"T2024", "T2025"}
