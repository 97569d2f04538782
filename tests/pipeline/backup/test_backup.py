"""A backup holds everything that cannot be made again and the build to read; restored, it is the same book."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Callable
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest

from pipeline.backup import back_up as backing
from pipeline.backup.back_up import CONTENTS, back_up, files_to_keep
from pipeline.backup.restore import restore
from pipeline.contract.findings import BadInput, BookError
from pipeline.intake.load import load
from pipeline.quotes.kept_quotes import keep_quote, kept_quotes
from pipeline.store.book import Book
from pipeline.store.journal import append, journal_path, read_journal
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import HAND_WRITTEN

ANSWER = {"firm_id": "own", "job_id": "J1", "price": {"price": 840.0, "currency": "GBP"}}
FOLDER = "Büro & Söhne/our book"


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """A book with a load, a quote, two journals and what need not be kept, in a folder with a space and an umlaut."""
    folder = tmp_path_factory.mktemp("backup") / FOLDER
    folder.parent.mkdir()
    book = Book(folder)
    load([HAND_WRITTEN], book)
    keep_quote(book, ANSWER, {"jobs": []}, model="m", valid_until=date(2031, 1, 1))
    for job in ("a", "own/b"):
        append(book, job, {"id": f"{job}1", "x": 1})
        append(book, job, {"id": f"{job}2", "x": 2})
    (book.builds / "0000000000000000.duckdb").write_bytes(b"older")
    (book.received / ".incoming-1").mkdir()
    (book.received / ".incoming-1" / "half.csv").write_text("half", encoding="utf-8")
    (book.path / "mark.png").write_bytes(b"picture")
    return book


@pytest.fixture
def archive(full: Book, tmp_path: Path) -> Path:
    back_up(full, tmp_path / "out.zip")
    return tmp_path / "out.zip"


def contents(book: Book) -> dict[str, bytes]:
    return {path.relative_to(book.path).as_posix(): path.read_bytes() for path in files_to_keep(book)}


def test_a_restored_book_is_the_book_that_was_backed_up(full: Book, tmp_path: Path) -> None:
    report = back_up(full, tmp_path / "out.zip")
    done = restore(tmp_path / "out.zip", tmp_path / "Neues Büro")
    book = Book(tmp_path / "Neues Büro")

    assert contents(book) == contents(full)
    assert (report.files, report.findings, done.files) == (len(contents(full)), (), len(contents(full)))
    assert verify(book).clean
    assert kept_quotes(book) == kept_quotes(full)
    assert read_journal(book, "own/b") == read_journal(full, "own/b")
    assert book.current().name == full.current().name
    assert load([HAND_WRITTEN], book).is_new is False


def test_locks_older_builds_and_half_written_files_are_not_taken_along(full: Book, archive: Path) -> None:
    names = set(zipfile.ZipFile(archive).namelist())

    assert {"firm.toml", "id.key", "current", "mark.png", f"builds/{full.current().name}", CONTENTS} <= names
    assert {"quotes/Q00001.jsonl", "quotes/Q00001.saved", "on_site/a.jsonl", "on_site/a.saved"} <= names
    assert not [name for name in names if "lock" in name or ".incoming" in name or "0000000000000000" in name]


def test_nothing_that_is_there_is_overwritten(full: Book, archive: Path, tmp_path: Path) -> None:
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "letter.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(BookError, match="is there already; a backup is restored into a new folder only"):
        restore(archive, tmp_path / "taken")
    with pytest.raises(BadInput, match="is not overwritten"):
        back_up(full, archive)
    assert [path.name for path in (tmp_path / "taken").iterdir()] == ["letter.txt"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out.zip", "taken"]


def test_an_empty_folder_may_become_the_book(archive: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    restore(archive, tmp_path / "empty")
    assert (tmp_path / "empty" / "current").is_file()


def test_a_disk_that_does_not_keep_what_was_written_is_found_out(
    full: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = backing._written

    def spoilt(book: Book, part: Path) -> object:
        members = written(book, part)
        data = bytearray(part.read_bytes())
        middle = len(data) // 2
        data[middle : middle + 8] = bytes(8)
        part.write_bytes(data)
        return members

    monkeypatch.setattr(backing, "_written", spoilt)
    with pytest.raises(BookError, match="use another disk"):
        back_up(full, tmp_path / "out.zip")
    assert list(tmp_path.iterdir()) == []


def remade(archive: Path, out: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    """The backup with other members."""
    with zipfile.ZipFile(archive) as old:
        members = {name: old.read(name) for name in old.namelist()}
    change(members)
    with zipfile.ZipFile(out, "w") as new:
        for name, data in members.items():
            new.writestr(name, data)
    return out


def listed(members: dict[str, bytes], name: str, data: bytes) -> None:
    """A member that the list names too."""
    facts = json.loads(members[CONTENTS])
    facts["files"].append({"name": name, "size_bytes": len(data), "sha256": sha256(data).hexdigest()})
    members[name], members[CONTENTS] = data, json.dumps(facts).encode()


def newer(members: dict[str, bytes]) -> None:
    members[CONTENTS] = json.dumps({**json.loads(members[CONTENTS]), "format": 99}).encode()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda m: m.pop("id.key"), "does not hold the files that its list names"),
        (lambda m: m.update({"extra.txt": b"x"}), "does not hold the files that its list names"),
        (lambda m: m.update({"id.key": b"k" * 32}), "id.key in the backup .* is not as it was backed up"),
        (lambda m: m.update({"id.key": b"k" * 99_999}), "id.key in the backup .* is not as it was backed up"),
        (lambda m: m.pop(CONTENTS), "is no backup of a book"),
        (lambda m: m.update({CONTENTS: b"{"}), "list in the backup .* is damaged"),
        (lambda m: m.update({CONTENTS: b"[" * 50_000}), "list in the backup .* is damaged"),
        (newer, "written by a newer version"),
        (lambda m: listed(m, "../out.txt", b"x"), "names a file outside the book"),
        (lambda m: listed(m, "/out.txt", b"x"), "names a file outside the book"),
        (lambda m: listed(m, "FIRM.toml", b"x"), "does not hold the files that its list names"),
    ],
)
def test_a_backup_that_is_not_whole_is_refused_and_nothing_is_left(
    change: Callable[[dict[str, bytes]], None], told: str, archive: Path, tmp_path: Path
) -> None:
    (tmp_path / "in").mkdir()
    bad = remade(archive, tmp_path / "bad.zip", change)

    with pytest.raises(BadInput, match=told):
        restore(bad, tmp_path / "in" / "book")
    assert list((tmp_path / "in").iterdir()) == []


def test_a_backup_cut_anywhere_is_refused(archive: Path, tmp_path: Path) -> None:
    data = archive.read_bytes()
    for number, end in enumerate(range(0, len(data) - 1, len(data) // 12)):
        (tmp_path / "cut.zip").write_bytes(data[:end])
        with pytest.raises(BadInput, match="is no whole backup"):
            restore(tmp_path / "cut.zip", tmp_path / f"book{number}")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["cut.zip", "out.zip"]


def test_a_disk_without_room_is_told_before_anything_is_written(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    free = shutil.disk_usage(tmp_path)._replace(free=1_000)
    monkeypatch.setattr("pipeline.backup.restore.shutil.disk_usage", lambda _: free)
    with pytest.raises(BookError, match="the disk has 1,000 left; make room"):
        restore(archive, tmp_path / "book")
    assert not (tmp_path / "book").exists()


def test_a_backup_of_a_book_that_lost_something_says_so(full: Book, tmp_path: Path) -> None:
    shutil.copytree(full.path, tmp_path / "book")
    book = Book(tmp_path / "book")
    path = journal_path(book, "a")
    path.write_bytes(path.read_bytes()[:-5])
    (book.path / "id.key").write_bytes(b"")

    report = back_up(book, tmp_path / "out.zip")
    assert [finding.code for finding in report.findings] == ["id_key_lost", "journal_cut"]
    assert report.files == len(contents(book))


def test_what_is_newest_is_still_newest_after_a_restore(full: Book, archive: Path, tmp_path: Path) -> None:
    """Times of a ZIP have two seconds; what is told by times are builds and models, minutes apart."""
    restore(archive, tmp_path / "book")
    before, after = full.current().stat().st_mtime, Book(tmp_path / "book").current().stat().st_mtime
    assert abs(before - after) <= 2.0
