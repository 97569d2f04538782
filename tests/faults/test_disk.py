"""A disk that is full, folders that may not be written, files that change: one sentence, nothing half done."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from pipeline.contract.findings import BadInput, BookError
from pipeline.intake.load import load
from pipeline.store.book import Book
from pipeline.store.pruning import leftovers
from pipeline.verify.verify_book import verify
from tests.faults.kill_many import HAND_WRITTEN, tables_digest


@pytest.fixture(scope="module")
def in_peace(tmp_path_factory: pytest.TempPathFactory) -> Book:
    book = Book(tmp_path_factory.mktemp("peace") / "book")
    load([HAND_WRITTEN], book)
    return book


@contextmanager
def files_no_larger_than(limit: int) -> Iterator[None]:
    """Writing beyond so many bytes of any file fails, in this process and its libraries: a real refusal."""
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def assert_nothing_is_half_done(book: Book) -> None:
    if book.exists():
        assert leftovers(book) == ()
        assert verify(book).clean
        assert not list(book.path.rglob("*.wal"))


LIMITS = [500, 6_000, 4_000_000]
"""Bytes a file may have: from too few for the copy of a file to too few for the build alone."""
FURTHER = [pytest.param(limit, marks=pytest.mark.study) for limit in (3_000, 20_000, 200_000)]


@pytest.mark.parametrize("limit", [*LIMITS, *FURTHER])
def test_a_disk_that_takes_no_more_is_told_and_room_made_the_load_goes_through(
    limit: int, tmp_path: Path, in_peace: Book
) -> None:
    book = Book(tmp_path / "book")
    with files_no_larger_than(limit), pytest.raises(BookError, match=r"cannot be written|could not be copied") as told:
        load([HAND_WRITTEN], book)
    assert str(told.value).count("\n") == 0
    assert_nothing_is_half_done(book)

    load([HAND_WRITTEN], book)
    assert tables_digest(book) == tables_digest(in_peace)


def test_a_disk_that_is_full_at_a_second_load_leaves_the_first_as_it_was(tmp_path: Path, in_peace: Book) -> None:
    shutil.copytree(in_peace.path, tmp_path / "book")
    book = Book(tmp_path / "book")
    log = tmp_path / "more"
    log.mkdir()
    text = (HAND_WRITTEN / "emitters.csv").read_text(encoding="utf-8")
    (log / "emitters.csv").write_text(f"{text}H-02,9,column,600,600,0,15,no\n", encoding="utf-8")
    with files_no_larger_than(1_000_000), pytest.raises(BookError, match="Make room on the disk and load again"):
        load([log], book)

    assert tables_digest(book) == tables_digest(in_peace)
    assert_nothing_is_half_done(book)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_a_file_that_cannot_be_synced_is_not_received(
    number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: int) -> None:
        raise OSError(number, os.strerror(number))

    book = Book(tmp_path / "book")
    book.create()
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.store.received.os.fsync", refuse)
        with pytest.raises(BookError, match=os.strerror(number)):
            load([HAND_WRITTEN], book)
    assert list(book.received.iterdir()) == []


AS_NOBODY = """
import os, sys, tempfile
from pathlib import Path
from pipeline.store.book import Book
from pipeline.contract.findings import SludgebookError
from pipeline.intake.load import load
from pipeline.verify.verify_book import verify
with tempfile.TemporaryDirectory() as folder:  # whatever is imported late may lie where nobody may read
    load([Path(sys.argv[4])], Book(Path(folder) / "book"))
    if sys.argv[1] == "verify":
        verify(Book(Path(folder) / "book"))
if os.getuid() == 0:
    os.setgroups([]); os.setgid(65534); os.setuid(65534)
try:
    if sys.argv[1] == "verify":
        print("clean", verify(Book(Path(sys.argv[3]))).clean)
    else:
        load([Path(sys.argv[2])], Book(Path(sys.argv[3])))
except SludgebookError as error:
    print(error)
"""


def as_nobody(what: str, log: Path, book: Path) -> str:
    """What a person without rights is told. The process gives its rights away itself, so it works for root too."""
    command = [sys.executable, "-c", AS_NOBODY, what, str(log), str(book), str(HAND_WRITTEN)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, cwd=Path(__file__).parents[2])
    assert "Traceback" not in done.stderr, done.stderr
    return done.stdout.strip()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that anybody may enter; those of pytest are closed to others."""
    with tempfile.TemporaryDirectory(prefix="sludgebook-rights-") as folder:
        Path(folder).chmod(0o755)
        yield Path(folder)


@pytest.fixture
def read_only(open_folder: Path, in_peace: Book) -> Iterator[Book]:
    shutil.copytree(in_peace.path, open_folder / "book")
    everything = [open_folder / "book", *(open_folder / "book").rglob("*")]
    for path in everything:
        path.chmod(0o555 if path.is_dir() else 0o444)
    yield Book(open_folder / "book")
    for path in everything:
        path.chmod(0o755)


@pytest.mark.skipif(os.name == "nt", reason="folders have no such rights there")
def test_a_read_only_book_is_told_stays_as_it_is_and_can_be_verified(read_only: Book, in_peace: Book) -> None:
    log = read_only.path.parent / "log"
    shutil.copytree(HAND_WRITTEN, log)
    (log / "pipe_runs.csv").unlink()

    told = as_nobody("load", log, read_only.path)
    assert "cannot be written: Permission denied" in told or "cannot be written: Read-only" in told
    assert as_nobody("verify", log, read_only.path) == "clean True"
    assert tables_digest(read_only) == tables_digest(in_peace)


@pytest.mark.skipif(os.name == "nt", reason="folders have no such rights there")
def test_a_folder_that_may_not_be_entered_is_told(open_folder: Path) -> None:
    (open_folder / "closed").mkdir()
    shutil.copytree(HAND_WRITTEN, open_folder / "closed" / "log")
    (open_folder / "closed").chmod(0o000)
    told = as_nobody("load", open_folder / "closed" / "log", open_folder / "book")
    assert told.endswith("closed/log cannot be read: Permission denied.")
    assert not (open_folder / "book").exists()


@pytest.mark.skipif(os.name == "nt", reason="files have no such rights there")
def test_a_file_that_may_not_be_read_is_told_and_nothing_is_received(open_folder: Path) -> None:
    log, book = open_folder / "log", open_folder / "book"
    shutil.copytree(HAND_WRITTEN, log)
    (log / "catches.csv").chmod(0o000)
    book.mkdir()
    book.chmod(0o777)

    told = as_nobody("load", log, book)
    assert "Permission denied" in told
    assert "\n" not in told
    assert not list(book.glob("received/*"))


def test_a_file_that_changes_while_it_is_read_is_told_and_nothing_is_received(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log, book = tmp_path / "log", Book(tmp_path / "book")
    shutil.copytree(HAND_WRITTEN, log)
    fstat = os.fstat

    def while_it_is_read(handle: int) -> os.stat_result:
        found = fstat(handle)
        with (log / "jobs.csv").open("a", encoding="utf-8") as file:
            file.write("\n")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("pipeline.store.received.os.fstat", while_it_is_read)
        with pytest.raises(BadInput, match=r"jobs\.csv changed while it was read; close the program that writes it"):
            load([log], book)
    assert list(book.received.iterdir()) == []


def test_a_file_that_changes_after_it_was_copied_counts_as_it_was_copied(
    tmp_path: Path, in_peace: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.intake import load as loading
    from pipeline.store.received import Staged

    log, book = tmp_path / "log", Book(tmp_path / "book")
    shutil.copytree(HAND_WRITTEN, log)
    stage = loading.stage

    def then_changed(*arguments: object) -> Staged:
        staged = stage(*arguments)  # type: ignore[arg-type]
        (log / "catches.csv").write_text("job_id\n", encoding="utf-8")
        return staged

    monkeypatch.setattr(loading, "stage", then_changed)
    load([log], book)
    assert tables_digest(book) == tables_digest(in_peace)
    assert verify(book).clean
