"""Verify: a whole book is clean, each kind of damage is named, and nothing in the book is changed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.checks import check_batch
from pipeline.contract.findings import BookError
from pipeline.intake import load
from pipeline.store.book import Book
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import HAND_WRITTEN, JOB_A, JOBS_HEAD, WriteLog


@pytest.fixture(scope="module")
def model_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The hand-written book, with a second batch that corrects one job."""
    folder = tmp_path_factory.mktemp("verify")
    book = Book(folder / "book")
    (folder / "more").mkdir()
    lines = [JOBS_HEAD, JOB_A, JOB_A.replace("a", "H-01", 1)]
    (folder / "more" / "jobs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    load.load([HAND_WRITTEN], book)
    load.load([folder / "more"], book)
    return book


@pytest.fixture
def whole(tmp_path: Path, model_book: Book) -> Book:
    """A copy of it, to be damaged."""
    shutil.copytree(model_book.path, tmp_path / "book")
    return Book(tmp_path / "book")


def everything_in(book: Book) -> dict[str, bytes]:
    return {str(path.relative_to(book.path)): path.read_bytes() for path in book.path.rglob("*") if path.is_file()}


def codes(book: Book) -> list[str]:
    report = verify(book)
    assert report.clean == (not report.findings)
    return [finding.code for finding in report.findings]


def test_a_whole_book_is_clean_and_is_left_as_it_was(whole: Book) -> None:
    before = everything_in(whole)
    report = verify(whole)

    assert (report.clean, report.findings, report.notes, report.batches) == (True, (), (), 2)
    assert everything_in(whole) == before
    assert set(report.as_json()) == {"clean", "findings", "notes", "batches", "seconds"}


def first_batch(book: Book) -> Path:
    folders = (folder for folder in book.received.iterdir() if (folder / "catches.csv").exists())
    return next(folders)


def change_a_byte(book: Book) -> None:
    path = first_batch(book) / "catches.csv"
    path.write_bytes(path.read_bytes().replace(b",420,", b",421,"))


def cut_a_file(book: Book) -> None:
    path = first_batch(book) / "catches.csv"
    path.write_bytes(path.read_bytes()[:-1])


def lose_a_file(book: Book) -> None:
    (first_batch(book) / "emitters.csv").unlink()


def add_a_file(book: Book) -> None:
    (first_batch(book) / "letter.txt").write_text("dear", encoding="utf-8")


def forge_a_hash(book: Book) -> None:
    """The file and its hash in the manifest changed together: the batch's own name still tells."""
    from pipeline.verify.verify_files import sha256_of

    manifest = first_batch(book) / "manifest.json"
    change_a_byte(book)
    facts = json.loads(manifest.read_text(encoding="utf-8"))
    for file in facts["files"]:
        file["sha256"] = sha256_of(first_batch(book) / file["stored"])
    manifest.write_text(json.dumps(facts), encoding="utf-8")


def break_a_manifest(book: Book) -> None:
    (first_batch(book) / "manifest.json").write_text("{", encoding="utf-8")


def change_a_checked_row(book: Book) -> None:
    path = next((book.checked / first_batch(book).name / "catches").glob("001-*.parquet"), None)
    path = path or next(p for p in (book.checked / first_batch(book).name / "catches").glob("0*.parquet"))
    pl.read_parquet(path).with_columns(pl.col("mass_g") + 1).write_parquet(path)


def lose_a_checked_file(book: Book) -> None:
    (book.checked / first_batch(book).name / "spans.parquet").unlink()


def change_the_build(book: Book) -> None:
    with duckdb.connect(str(book.current())) as connection:
        connection.execute("update catches set mass_g = mass_g + 1 where job_id = 'H-02' and catch_no = 1")


def lose_a_row_of_the_build(book: Book) -> None:
    with duckdb.connect(str(book.current())) as connection:
        connection.execute("delete from emitters where job_id = 'H-01' and emitter_no = 1")


def change_the_ledger(book: Book) -> None:
    with duckdb.connect(str(book.current())) as connection:
        connection.execute("update ledger set rejected = rejected + 1 where table_name = 'jobs'")


def add_a_table(book: Book) -> None:
    with duckdb.connect(str(book.current())) as connection:
        connection.execute("create table letters as select 1 as x")


def spoil_the_build(book: Book) -> None:
    book.current().write_bytes(b"not a database")


def lose_the_build(book: Book) -> None:
    book.current().unlink()


def spoil_the_settings(book: Book) -> None:
    book.firm_file.write_text("wet_dry_ratio = 'soft'\n", encoding="utf-8")


def change_the_settings(book: Book) -> None:
    text = book.firm_file.read_text(encoding="utf-8")
    book.firm_file.write_text(text.replace("wet_dry_ratio = 2.0", "wet_dry_ratio = 1.5"), encoding="utf-8")


def spoil_a_model(book: Book) -> None:
    folder = book.models_dir(book.current()) / "quote"
    folder.mkdir(parents=True)
    (folder / "arrays.npz").write_bytes(b"numbers")
    (folder / "manifest.json").write_text(json.dumps({"files": {"arrays.npz": "0" * 64}}), encoding="utf-8")


@pytest.mark.parametrize(
    ("damage", "expected"),
    [
        (change_a_byte, ["received_changed", "cannot_be_derived"]),
        (cut_a_file, ["received_changed", "cannot_be_derived"]),
        (lose_a_file, ["received_missing", "cannot_be_derived"]),
        (add_a_file, ["received_strange", "cannot_be_derived"]),
        (forge_a_hash, ["received_changed", "cannot_be_derived"]),
        (break_a_manifest, ["cannot_be_derived"]),
        (change_a_checked_row, ["checked_differs"]),
        (lose_a_checked_file, ["checked_differs"]),
        (change_the_build, ["build_differs"]),
        (lose_a_row_of_the_build, ["build_differs", "counts_do_not_add_up"]),
        (change_the_ledger, ["build_differs", "counts_do_not_add_up", "counts_do_not_add_up"]),
        (add_a_table, ["build_differs"]),
        (spoil_the_build, ["build_damaged", "cannot_be_derived"]),
        (lose_the_build, ["cannot_be_derived"]),
        (spoil_the_settings, ["cannot_be_derived"]),
        (change_the_settings, ["built_by_other_rules"]),
        (spoil_a_model, ["model_damaged"]),
    ],
)
def test_each_kind_of_damage_is_named(damage: Callable[[Book], None], expected: list[str], whole: Book) -> None:
    damage(whole)
    assert codes(whole) == expected


def test_what_a_killed_load_left_is_a_note_and_the_next_load_clears_it(whole: Book) -> None:
    (whole.received / ".incoming-0").mkdir()
    (whole.builds / ".x.duckdb.part").write_bytes(b"half")
    (whole.checked / ".x.part" / "jobs").mkdir(parents=True)
    report = verify(whole)

    assert report.clean
    assert [note.code for note in report.notes] == ["leftover"] * 3
    load.load([HAND_WRITTEN], whole)
    assert verify(whole).notes == ()


def test_a_batch_that_is_received_and_no_more_is_a_note(whole: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    def killed(*_: object) -> Path:
        raise KeyboardInterrupt

    log = whole.path.parent / "third"
    log.mkdir()
    (log / "jobs.csv").write_text(f"{JOBS_HEAD}\nc{JOB_A[1:]}\n", encoding="utf-8")
    monkeypatch.setattr("pipeline.intake.load.rebuild", killed)
    with pytest.raises(KeyboardInterrupt):
        load.load([log], whole)

    report = verify(whole)
    assert (report.clean, report.batches) == (True, 3)
    assert [note.code for note in report.notes] == ["not_checked_yet", "not_built_yet"]


def test_a_book_of_older_rules_says_what_to_do(whole: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check_batch, "CONTRACT_VERSION", 99)
    monkeypatch.setattr("pipeline.build.CONTRACT_VERSION", 99)
    report = verify(whole)
    assert [finding.code for finding in report.findings] == ["built_by_other_rules"]
    assert [note.code for note in report.notes] == ["not_checked_yet"] * 2


def test_an_empty_book_is_clean_and_no_book_is_told(book: Book, write_log: WriteLog) -> None:
    with pytest.raises(BookError, match="There is no book"):
        verify(book)
    book.create()
    assert (verify(book).clean, verify(book).batches) == (True, 0)


def test_ids_that_were_hidden_and_headings_that_were_mapped_are_derived_again_the_same(tmp_path: Path) -> None:
    from pipeline.mapping.mapping_file import write_mapping
    from pipeline.mapping.propose import propose
    from pipeline.readers.files import find_in

    sheet, book = tmp_path / "our jobs.csv", Book(tmp_path / "book")
    cells = "K7;vented;14/03/2025;14/03/2025 09:00;14/03/2025 15:00"
    sheet.write_text(f"Job ref;System;Visit date;Flush start;Flush end\n{cells}\n", encoding="utf-8")
    proposal = propose(find_in([sheet]).tables)
    write_mapping(tmp_path / "mapping.toml", proposal.mapping, proposal)
    load.load([sheet], book, mapping_file=tmp_path / "mapping.toml")
    hidden = JOB_A.replace("a,", "ann@example.org,", 1)
    (tmp_path / "jobs.csv").write_text(f"{JOBS_HEAD}\n{hidden}\n", encoding="utf-8")
    load.load([tmp_path / "jobs.csv"], book)

    assert (verify(book).findings, verify(book).clean) == ((), True)
