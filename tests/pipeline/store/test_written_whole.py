"""What is said to be on disk is on disk: the order of writing, syncing and renaming, and writers side by side."""

from __future__ import annotations

import multiprocessing
import os
from pathlib import Path

import pytest

from pipeline.intake.load import load
from pipeline.store.book import Book, write_whole
from pipeline.store.journal import append, read_journal
from tests.pipeline.conftest import JOB_A, JOBS_HEAD, WriteLog


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    """Every sync and rename in the order done, with the name of what it was done to."""
    done: list[tuple[str, str]] = []
    fsync, replace = os.fsync, Path.replace

    def synced(handle: int) -> None:
        done.append(("sync", Path(os.readlink(f"/proc/self/fd/{handle}")).name))
        fsync(handle)

    def replaced(path: Path, target: Path) -> Path:
        done.append(("rename", f"{path.name} {Path(target).name}"))
        return replace(path, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", replaced)
    return done


needs_proc = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="names of open files are read from /proc")


@needs_proc
def test_a_file_is_synced_before_it_is_renamed_and_its_folder_after(
    told: list[tuple[str, str]], tmp_path: Path
) -> None:
    write_whole(tmp_path / "current", b"x")
    assert told == [("sync", ".current.part"), ("rename", ".current.part current"), ("sync", tmp_path.name)]


@needs_proc
def test_a_load_syncs_what_it_received_then_the_rows_then_their_stamp_and_names_the_build_last(
    told: list[tuple[str, str]], book: Book, write_log: WriteLog
) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    batch, build = next(book.received.iterdir()).name, book.current().name
    (staged,) = [
        name.split()[0] for what, name in told if what == "rename" and name.endswith(f" {batch}") and "part" not in name
    ]
    at = told.index
    rows = [at(("sync", f"{name}.parquet")) for name in ("001-00000", "spans", "rejects", "warnings", "sources")]
    stages = [
        *[("sync", "jobs.csv"), ("sync", ".manifest.json.part"), ("rename", f"{staged} {batch}"), ("sync", "received")],
        *[("sync", ".stamp.json.part"), ("rename", f".{batch}.part {batch}"), ("sync", "checked")],
        *[("rename", f".{build}.part {build}"), ("sync", "builds")],
        *[("sync", ".current.part"), ("rename", ".current.part current")],
    ]
    places = [at(stage) for stage in stages]
    assert places == sorted(places)
    assert places[3] < min(rows) <= max(rows) < places[4]
    assert told[places[-1] + 1] == ("sync", book.path.name)


def _appended(path: str, writer: int, count: int) -> None:
    for number in range(count):
        append(Book(Path(path)), "n/a", {"writer": writer, "number": number})


def test_entries_that_four_programs_save_at_once_are_all_there_each_on_its_line(book: Book) -> None:
    book.create()
    context = multiprocessing.get_context("fork")
    programs = [context.Process(target=_appended, args=(str(book.path), writer, 15)) for writer in range(4)]
    for program in programs:
        program.start()
    for program in programs:
        program.join()
    journal = read_journal(book, "n/a")
    assert journal.torn == ()
    assert [entry.line for entry in journal.entries] == list(range(1, 61))
    found = [(entry.values["writer"], entry.values["number"]) for entry in journal.entries]
    assert sorted(found) == [(writer, number) for writer in range(4) for number in range(15)]
    assert all([n for w, n in found if w == writer] == list(range(15)) for writer in range(4))
