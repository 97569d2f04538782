"""Builds kept and pruned; books of older and newer versions."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.checks import check_batch
from pipeline.checks.check_batch import is_checked
from pipeline.contract.findings import BookError
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from pipeline.store.pruning import BUILDS_KEPT, is_open_elsewhere, prune_builds
from pipeline.store.received import MANIFEST_FORMAT, batches
from pipeline.verify.verify_book import verify
from tests.faults.kill_many import HAND_WRITTEN, correction, tables_digest


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Book:
    found = Book(tmp_path_factory.mktemp("loaded") / "book")
    load([HAND_WRITTEN], found)
    return found


@pytest.fixture
def book(tmp_path: Path, loaded: Book) -> Book:
    """A copy of it, to be aged and spoilt."""
    shutil.copytree(loaded.path, tmp_path / "book")
    return Book(tmp_path / "book")


def older_builds(book: Book, count: int) -> list[Path]:
    """Copies of the build, each a minute older than the one before it."""
    made = []
    for number in range(count):
        path = book.builds / f"{number:016x}.duckdb"
        shutil.copy(book.current(), path)
        at = book.current().stat().st_mtime - 60 * (number + 1)
        os.utime(path, (at, at))
        made.append(path)
    return made


def test_the_newest_builds_stay_and_older_ones_go_with_the_next_load(book: Book, tmp_path: Path) -> None:
    older = older_builds(book, 4)
    load([correction(tmp_path / "more")], book)

    assert [path.exists() for path in older] == [True, False, False, False]
    assert len(list(book.builds.iterdir())) == BUILDS_KEPT


def test_the_current_build_stays_though_it_is_the_oldest(book: Book) -> None:
    older = older_builds(book, 4)
    os.utime(book.current(), (1, 1))
    assert prune_builds(book, keep=1) == tuple(older[1:])
    assert book.current().exists()


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot be removed there at all")
def test_a_build_that_someone_reads_stays_until_they_are_done(book: Book) -> None:
    open_one, other = older_builds(book, 2)
    hold = "import duckdb, sys; c = duckdb.connect(sys.argv[1], read_only=True); print(1, flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(open_one)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as reader:
        assert reader.stdout is not None
        assert reader.stdout.readline() == "1\n"
        assert is_open_elsewhere(open_one)
        assert prune_builds(book, keep=1) == (other,)
        reader.communicate()
    assert prune_builds(book, keep=1) == (open_one,)


def test_a_book_of_an_older_contract_is_made_anew_from_what_was_received(
    tmp_path: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    older = Book(tmp_path / "older")
    with monkeypatch.context() as patch:
        patch.setattr(check_batch, "CONTRACT_VERSION", 0)
        patch.setattr("pipeline.build.CONTRACT_VERSION", 0)
        load([HAND_WRITTEN], older)
    assert older.current().name != book.current().name
    assert not is_checked(older, batches(older)[0])

    report = load([correction(tmp_path / "more")], older)
    load([tmp_path / "more"], book)
    assert report.is_new
    assert older.current().name == book.current().name
    assert tables_digest(older) == tables_digest(book)
    assert verify(older).clean


def test_a_build_without_a_table_of_this_version_says_what_to_do(book: Book) -> None:
    import duckdb

    with duckdb.connect(str(book.current())) as connection:
        connection.execute("drop table jobs")
    with pytest.raises(BookError, match="There is no table 'jobs'"):
        read_table(book.current(), "jobs")
    assert [finding.code for finding in verify(book).findings] != []


def test_what_a_newer_version_received_is_refused_with_a_sentence(book: Book, tmp_path: Path) -> None:
    manifest = book.received / batches(book)[0].batch_id / "manifest.json"
    facts = json.loads(manifest.read_text(encoding="utf-8"))
    before = tables_digest(book)
    manifest.write_text(json.dumps({**facts, "format": MANIFEST_FORMAT + 1, "seal": "x"}), encoding="utf-8")

    with pytest.raises(BookError, match=r"newer version of Sludgebook .* update Sludgebook"):
        load([correction(tmp_path / "more")], book)
    assert tables_digest(book) == before
    assert [p.name for p in book.received.iterdir()] == [facts["batch"]]


def test_a_manifest_from_before_its_form_had_a_number_is_read(book: Book) -> None:
    manifest = book.received / batches(book)[0].batch_id / "manifest.json"
    facts = json.loads(manifest.read_text(encoding="utf-8"))
    assert facts.pop("format") == MANIFEST_FORMAT
    manifest.write_text(json.dumps(facts), encoding="utf-8")
    assert len(batches(book)) == 1
    assert verify(book).clean
