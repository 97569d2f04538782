"""Heavy work runs in a process of its own, at low priority, one piece at a time, and says how far it is."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from filelock import FileLock

from dashboard.services import apart, auditing, training
from dashboard.services.build_tables import whole_tables
from dashboard.services.progress import Bars, no_bars
from models.practice.cohort.audited_jobs import Scope
from models.refusals import Refusal
from pipeline.contract.findings import BookError
from pipeline.store.book import Book


@pytest.fixture
def book(small_book: Book, tmp_path: Path) -> Book:
    shutil.copytree(small_book.path, tmp_path / "book")
    return Book(tmp_path / "book")


def priorities() -> set[int]:
    """How nice the processes are that this one has started."""
    threads = Path("/proc/self/task").iterdir()
    children = {int(pid) for thread in threads for pid in (thread / "children").read_text().split()}
    return {os.getpriority(os.PRIO_PROCESS, pid) for pid in children}


def test_learning_waits_its_turn_says_how_far_it_is_and_is_no_hurry(book: Book) -> None:
    shown: list[tuple[int, int, str]] = []
    nice: set[int] = set()

    def show(done: int, of: int) -> None:
        running = apart.at_work(book.path)
        shown.append((done, of, running.what if running else ""))
        if sys.platform == "linux":
            nice.update(priorities())

    thread = threading.Thread(target=apart.learn, args=(book.path, book.current(), show))
    with FileLock(book.path / apart.LOCK):
        thread.start()
        time.sleep(2)
        assert shown == []
    thread.join()

    assert training.is_trained(book)
    assert {what for *_, what in shown} <= {"Training", "Learning how crews work", ""}
    assert any(what for *_, what in shown)
    assert all(done <= of for done, of, _ in shown)
    assert sys.platform != "linux" or max(nice) >= min(19, os.nice(0) + apart.POLITE)
    assert apart.at_work(book.path) is None


def test_an_audit_from_apart_is_the_audit(book: Book) -> None:
    build, firm, steps = book.current(), replace(book.firm(), hourly_rate=61.0), []
    scope = Scope(system_type="sealed")

    found = apart.ask(book.path, build, "audit", {"firm": firm, "scope": scope}, lambda *step: steps.append(step))

    assert found.as_dict() == auditing.audit(whole_tables(build), firm, scope).as_dict()
    assert steps[-1] == (18, 18)


def test_a_refusal_from_apart_stays_one(book: Book) -> None:
    scope = Scope(first=date(2099, 1, 1))

    with pytest.raises(Refusal, match="This needs at least"):
        apart.ask(book.path, book.current(), "audit", {"firm": book.firm(), "scope": scope}, lambda done, of: None)


@pytest.mark.parametrize("seconds", [0.0, 0.3])
def test_one_that_is_killed_is_told_in_a_sentence(seconds: float, book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    def packed(_: object) -> str:
        time.sleep(seconds)  # it has ended before it was asked
        return "{}"

    monkeypatch.setattr(sys, "executable", shutil.which("false"))
    monkeypatch.setattr(apart, "packed", packed)

    with pytest.raises(BookError, match="stopped before it was done"):
        apart.learn(book.path, book.current(), lambda done, of: None)


def test_what_cannot_be_learnt_is_told_in_a_sentence(book: Book) -> None:
    with pytest.raises(BookError) as refused:
        apart.learn(book.path, book.path / "builds" / "none.duckdb", lambda done, of: None)

    assert str(refused.value).endswith(".")
    assert apart.at_work(book.path) is None


def test_the_mark_of_one_that_was_killed_counts_for_nothing(book: Book) -> None:
    (book.path / apart.STATUS).write_text('{"what": "Training", "done": 3, "of": 9}', encoding="utf-8")

    assert apart.at_work(book.path) is None
    with FileLock(book.path / apart.LOCK):
        assert apart.at_work(book.path) == apart.AtWork("Training", 3, 9)


def test_a_command_says_for_what_it_waits_and_pages_see_how_far_it_is(book: Book) -> None:
    said: list[str] = []
    drawn: list[tuple[int, int]] = []
    seen: list[apart.AtWork | None] = []

    @contextmanager
    def bars(_: str) -> Iterator[Callable[[int, int], None]]:
        yield lambda *step: drawn.append(step)

    with apart.turn(book.path):
        (book.path / apart.STATUS).write_text('{"what": "Training", "done": 3, "of": 9}', encoding="utf-8")
        thread = threading.Thread(target=commanded, args=(book, bars, said, seen))
        thread.start()
        while not said:
            time.sleep(0.01)
        assert seen == []
    thread.join()

    assert said == ["Waits until other work on this book is done: training."]
    assert seen == [apart.AtWork("Replaying", 0, 1), apart.AtWork("Replaying", 2, 5)]
    assert drawn == [(2, 5)]
    assert apart.at_work(book.path) is None


def commanded(book: Book, bars: Bars, said: list[str], seen: list[apart.AtWork | None]) -> None:
    with apart.commanded(book.path, bars, said.append) as noted, noted("Replaying") as show:
        seen.append(apart.at_work(book.path))
        show(2, 5)
        seen.append(apart.at_work(book.path))


def test_a_command_is_no_slower_a_process_where_it_is_called_from_another_program(book: Book) -> None:
    before = os.nice(0) if hasattr(os, "nice") else 0
    with apart.commanded(book.path, no_bars, print):
        pass

    assert before == (os.nice(0) if hasattr(os, "nice") else 0)


def test_a_book_that_takes_no_file_is_worked_on_all_the_same(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError("read-only")

    monkeypatch.setattr(FileLock, "acquire", refuse)
    with apart.turn(book.path):
        assert apart.at_work(book.path) is None
