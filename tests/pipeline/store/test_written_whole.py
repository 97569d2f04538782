"""What is said to be on disk is on disk: the order of writing, syncing and renaming, and writers side by side."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier
from time import sleep

import pytest

from pipeline.contract.whole_files import write_whole
from pipeline.intake.load import load
from pipeline.store import journal
from pipeline.store.book import Book
from pipeline.store.journal import Entry, append, read_journal
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


def saved_by_four(book: Book, each: Callable[[int, int], dict[str, object]]) -> list[Entry]:
    """What four writers were told that save twelve entries each, all at once."""
    book.create()
    started = Barrier(4)

    def write(writer: int) -> list[Entry]:
        started.wait()
        return [append(book, "n/a", each(writer, number)) for number in range(12)]

    with ThreadPoolExecutor(4) as writers:
        return [entry for entries in writers.map(write, range(4)) for entry in entries]


def test_entries_that_four_writers_save_at_once_are_all_there_each_on_the_line_it_was_told(book: Book) -> None:
    told = saved_by_four(book, lambda writer, number: {"writer": writer, "number": number})
    kept = read_journal(book, "n/a")
    assert kept.torn == ()
    assert sorted(entry.line for entry in told) == list(range(1, 49))
    assert {entry.line: entry.values for entry in told} == {entry.line: entry.values for entry in kept.entries}


def test_an_entry_that_four_writers_send_at_once_is_stored_once(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each looks whether the entry stands there and takes its time: meanwhile nobody else may write."""
    look = journal._standing

    def slow(*arguments: object, **named: object) -> Entry | None:
        found = look(*arguments, **named)  # type: ignore[arg-type]
        sleep(0.005)
        return found

    monkeypatch.setattr(journal, "_standing", slow)
    told = saved_by_four(book, lambda writer, number: {"id": f"e{number}", "writer": writer})
    entries = read_journal(book, "n/a").entries
    assert sorted(str(entry.values["id"]) for entry in entries) == sorted(f"e{number}" for number in range(12))
    assert {entry.line for entry in told} == set(range(1, 13))
