"""Loading what a firm really hands in: archives, other separators, headings of its own by a mapping, hidden ids."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pandas as pd
import pytest

from pipeline.contract.findings import BadInput
from pipeline.intake.history import history
from pipeline.intake.load import load
from pipeline.mapping.mapping_file import write_mapping
from pipeline.mapping.propose import propose
from pipeline.readers.files import find_in
from pipeline.store.book import Book, read_table
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import CATCHES_HEAD, HAND_WRITTEN, JOB_A, JOBS_HEAD, WriteLog

OWN_HEADINGS = {"job_id": "Job ref", "system_type": "System", "visit_date": "Visit date"}


def test_a_zip_of_a_log_gives_what_the_folder_gives(tmp_path: Path) -> None:
    archive = tmp_path / "march.zip"
    with zipfile.ZipFile(archive, "w") as out:
        for path in HAND_WRITTEN.glob("*.csv"):
            out.write(path, f"log/{path.name}")
    folder, zipped = Book(tmp_path / "a"), Book(tmp_path / "b")
    load([HAND_WRITTEN], folder)
    report = load([archive], zipped)

    assert {r.file for r in report.rejects} == {f"march.zip/log/{n}.csv" for n in ("jobs", "emitters", "catches")}
    assert [p.name for p in (zipped.received / report.batch).iterdir() if p.suffix != ".json"] == ["march.zip"]
    for table in ("jobs", "ftr_outcome"):
        pd.testing.assert_frame_equal(read_table(folder.current(), table), read_table(zipped.current(), table))


def test_semicolons_and_utf16_are_read_and_said(tmp_path: Path, book: Book) -> None:
    text = "\n".join(line.replace(",", ";") for line in (JOBS_HEAD, JOB_A))
    (tmp_path / "jobs.csv").write_bytes(text.encode("utf-16"))
    report = load([tmp_path / "jobs.csv"], book)

    assert report.tables["jobs"].accepted == 1
    assert len(report.findings) == 1


def firm_sheet(folder: Path) -> Path:
    path = folder / "our jobs.csv"
    path.write_text(
        "Job ref;System;Visit date;Flush start;Flush end\n"
        "K7;vented;14/03/2025;14/03/2025 09:00;14/03/2025 15:00\n"
        "K8;sealed;28/03/2025;28/03/2025 09:30;28/03/2025 12:00\n",
        encoding="utf-8",
    )
    return path


def mapping_of(path: Path, out: Path) -> Path:
    proposal = propose(find_in([path]).tables)
    write_mapping(out, proposal.mapping, proposal)
    text = out.read_text(encoding="utf-8")
    out.write_text(text, encoding="utf-8")
    return out


def test_headings_of_a_firms_own_load_by_a_mapping_which_the_book_keeps(tmp_path: Path, book: Book) -> None:
    sheet = firm_sheet(tmp_path)
    with pytest.raises(BadInput, match="sludgebook map"):
        load([sheet], book)
    load([sheet], book, mapping_file=mapping_of(sheet, tmp_path / "mapping.toml"))
    got = read_table(book.current(), "jobs")
    assert got["job_id"].tolist() == ["K7", "K8"]
    assert got["system_type"].tolist() == ["open_vented", "sealed"]
    assert got["visit_date"].astype(str).tolist() == ["2025-03-14", "2025-03-28"]

    sheet.write_text(sheet.read_text(encoding="utf-8").replace("K8", "K9"), encoding="utf-8")
    report = load([sheet], book)
    assert (report.tables["jobs"].accepted, report.tables["jobs"].duplicates) == (1, 1)
    assert (book.received / report.batch / "mapping.toml").is_file()


def test_ids_that_are_mail_addresses_are_hidden_and_still_tie_rows_together(
    tmp_path: Path, book: Book, write_log: WriteLog
) -> None:
    job = JOB_A.replace("a,", "ann@example.org,", 1)
    catches = [CATCHES_HEAD, "Ann@example.org,1,2025-03-04T10:00,magnet,500"]
    load([write_log(jobs=[JOBS_HEAD, job], catches=catches)], book)

    (hidden,) = read_table(book.current(), "jobs")["job_id"]
    assert hidden.startswith("id-")
    assert read_table(book.current(), "catches")["job_id"].tolist() == [hidden]
    assert b"example.org" not in book.current().read_bytes()


def test_a_bad_cell_of_a_wide_sheet_costs_that_weighing_only(tmp_path: Path, book: Book) -> None:
    sheet = tmp_path / "our jobs.csv"
    head = "Job ref;System;Visit date;Flush start;Flush end;Magnet catch 1 g;Magnet catch 2 g;Magnet catch 3 g"
    sheet.write_text(f"{head}\nK7;vented;14/03/2025;14/03/2025 09:00;14/03/2025 15:00;500;-5;90\n", encoding="utf-8")
    text = mapping_of(sheet, tmp_path / "mapping.toml").read_text(encoding="utf-8")
    answer = '\n[[tables.columns]]\ncolumn = "caught_at"\nheading = "flush end"\ndates = "dmy"\n'
    before, _, after = text.rpartition("# ask:")
    (tmp_path / "mapping.toml").write_text(before + after.partition("\n")[2] + answer, encoding="utf-8")
    report = load([sheet], book, mapping_file=tmp_path / "mapping.toml")

    counts = report.tables["catches"]
    assert (counts.rows, counts.accepted, counts.rejected) == (3, 2, 1)
    assert read_table(book.current(), "catches")["mass_g"].tolist() == [500.0, 90.0]
    assert [(r.file, r.line, r.value) for r in report.rejects] == [("our jobs.csv [2]", 2, "-5")]
    assert [row.state for row in history(book, "own", "K7")] == ["accepted", "accepted", "rejected", "accepted"]
    assert verify(book).clean
