"""Each cause has its own sentence: what may not be read is not damaged, and what is damaged is made again."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import pytest

from dashboard.services import quoting, watching
from models.store import Stored, load_model, save_model
from pipeline.contract.findings import BookError, SludgebookError
from pipeline.intake.load import load
from pipeline.intake.make_again import make_again
from pipeline.store.book import Book, is_damaged, read_table
from pipeline.store.build_faults import DamagedBuild
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import HAND_WRITTEN, JOB_A, JOBS_HEAD, NEIGHBOURS_JOBS

needs_rights = pytest.mark.skipif(os.name == "nt", reason="files have no such rights there")


@pytest.fixture
def copy(hand_report: tuple[Book, object]) -> Iterator[Book]:
    """A copy of the hand-written book where anybody may enter, in a folder that is called after a lock."""
    verify(hand_report[0])  # what is imported late may lie where nobody may read
    with tempfile.TemporaryDirectory(prefix="block-") as folder:
        Path(folder).chmod(0o755)
        shutil.copytree(hand_report[0].path, Path(folder) / "clock book")
        yield Book(Path(folder) / "clock book")


@contextmanager
def as_nobody() -> Iterator[None]:
    """Without the rights of root, if this is root."""
    is_root = os.geteuid() == 0
    if is_root:
        os.setresuid(65534, 65534, 0)
    try:
        yield
    finally:
        if is_root:
            os.setresuid(0, 0, 0)


def overwrite_the_middle(build: Path) -> None:
    data = bytearray(build.read_bytes())
    for at in range(3 * 4096, len(data), 4096):
        data[at : at + 64] = bytes(range(64))
    build.write_bytes(data)


@pytest.mark.parametrize("content", [b"not a database", b"", None, "half"])
def test_a_damaged_build_in_a_folder_called_block_is_told_as_damaged(content: object, copy: Book) -> None:
    build = copy.current()
    if content is None:
        overwrite_the_middle(build)
    else:
        build.write_bytes(build.read_bytes()[:30_000] if content == "half" else content)  # type: ignore[arg-type]

    with pytest.raises(DamagedBuild, match=r'is damaged \(.*`sludgebook rebuild --book ".*clock book"` makes') as told:
        read_table(build, "jobs")
    assert "delete" not in str(told.value)
    assert "locked" not in str(told.value)


@pytest.mark.parametrize("spoil", [lambda b: b.write_bytes(b"no"), overwrite_the_middle], ids=["all", "middle"])
def test_making_it_again_mends_a_damaged_build(spoil: object, copy: Book, hand_report: tuple[Book, object]) -> None:
    assert callable(spoil)
    spoil(copy.current())
    make_again(copy)

    assert read_table(copy.current(), "catches").equals(read_table(hand_report[0].current(), "catches"))
    assert verify(copy).clean


def test_a_load_makes_a_build_that_cannot_be_opened_again_by_itself(copy: Book) -> None:
    copy.current().write_bytes(b"not a database")
    assert is_damaged(copy.current())
    load([HAND_WRITTEN], copy)
    assert verify(copy).clean


def test_a_load_after_a_damaged_build_starts_from_the_received_files(copy: Book) -> None:
    copy.current().write_bytes(b"not a database")
    more = copy.path.parent / "more"
    more.mkdir()
    (more / "jobs.csv").write_text(f"{JOBS_HEAD}\n{JOB_A}\n", encoding="utf-8")
    load([more], copy)
    assert len(read_table(copy.current(), "jobs")) == 11 + len(NEIGHBOURS_JOBS)
    assert verify(copy).clean


@needs_rights
def test_a_build_that_may_not_be_read_is_not_told_as_damaged(copy: Book) -> None:
    copy.current().chmod(0o000)
    build = copy.current()
    with as_nobody(), pytest.raises(BookError, match="may not be read by this user") as told:
        read_table(build, "jobs")
    assert not isinstance(told.value, DamagedBuild)
    assert "damaged" not in str(told.value)


@needs_rights
@pytest.mark.parametrize("what", ["received/*/manifest.json", "received/*/jobs.csv", "checked/*/spans.parquet"])
def test_files_that_may_not_be_read_are_not_told_as_damaged_or_changed(what: str, copy: Book) -> None:
    next(copy.path.glob(what)).chmod(0o000)
    with as_nobody():
        report = verify(copy)
    assert len(report.findings) == 1
    assert "Permission denied" in report.findings[0].sentence
    assert "restore" not in report.findings[0].sentence


def test_a_build_of_another_version_one_that_is_gone_and_a_wrong_question_are_told_apart(copy: Book) -> None:
    build = copy.current()
    with duckdb.connect(str(build)) as connection:
        connection.execute("alter table jobs rename to other_jobs")
    from pipeline.store.book import read

    with pytest.raises(BookError, match="was made by another version of Sludgebook; `sludgebook rebuild"):
        read(build, "select job_id from jobs")
    with pytest.raises(BookError, match=r"could not be read .*`sludgebook verify` tells"):
        read(build, "select cast('x' as integer)")
    build.unlink()
    with pytest.raises(BookError, match="is not there any more"):
        read(build, "select 1")


def test_a_book_with_received_files_and_no_build_is_not_told_as_empty(copy: Book) -> None:
    (copy.path / "current").unlink()
    shutil.rmtree(copy.builds)
    copy.builds.mkdir()
    with pytest.raises(BookError, match="has received files, but no build of them is there; `sludgebook rebuild"):
        copy.current()
    make_again(copy)
    assert verify(copy).clean


def test_of_several_builds_the_one_published_last_is_found_without_the_pointer(copy: Book) -> None:
    first = copy.current()
    more = copy.path.parent / "more"
    more.mkdir()
    (more / "jobs.csv").write_text(f"{JOBS_HEAD}\n{JOB_A}\n", encoding="utf-8")
    load([more], copy)
    second = copy.current()
    os.utime(first, (1, 1))
    (copy.path / "current").unlink()
    assert copy.current() == second != first

    copy.publish(first)
    (copy.path / "current").unlink()
    assert copy.current() == first


@needs_rights
def test_models_that_may_not_be_read_are_not_told_as_never_fitted(copy: Book) -> None:
    build = copy.current()
    save_model(copy.models_dir(build) / "quote", Stored(), {"model": "quote"})
    folder = copy.models_dir(build)
    folder.chmod(0o000)
    quoting.typical_rule()
    with as_nobody(), pytest.raises(SludgebookError, match=r"models in .* cannot be read: Permission denied"):
        quoting.fitted_models(copy, build)
    with as_nobody():
        (finding,) = watching.past(copy, build).findings
    assert "Permission denied" in finding.sentence
    folder.chmod(0o755)
    (folder / "quote" / "manifest.json").chmod(0o000)
    with as_nobody(), pytest.raises(SludgebookError, match="Nothing is known to be wrong with it"):
        load_model(folder / "quote")


def test_two_first_writers_that_meet_make_one_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipeline.contract.firm import write_default_firm

    def after_the_other(path: Path) -> None:
        write_default_firm(path)  # the other was quicker
        write_default_firm(path)

    monkeypatch.setattr("pipeline.store.book.write_default_firm", after_the_other)
    book = Book(tmp_path / "book")
    book.create()
    assert book.firm_file.is_file()
    assert book.exists()
