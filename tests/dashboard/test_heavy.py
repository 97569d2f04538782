"""Heavy answers: worked out once for all who ask; while a server runs apart from it, and a page says how far it is."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock

from dashboard import data
from dashboard.data import heavy
from dashboard.services import apart
from models.refusals import Refusal
from pipeline.contract.findings import BookError

PATIENCE_S = 30.0
Show = Callable[[int, int], None]


@pytest.fixture(autouse=True)
def _served(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A shelf of this test's own, a book, and a server that runs."""
    shelf = heavy._Shelf()
    monkeypatch.setattr(heavy, "_shelf", lambda: shelf)
    monkeypatch.setenv(data.BOOK_VARIABLE, str(tmp_path))
    monkeypatch.setenv(heavy.SERVED_VARIABLE, "1")


def never(_: Show) -> int:
    raise AssertionError("worked out within the server")


def asked_until_there(key: heavy.Key, work: Callable[[Show], int]) -> int:
    """Ask again and again, as a page that waits does."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            return heavy.once(key, never, work)
        except data.NotYet:
            time.sleep(0.01)
    raise AssertionError("it never came")


def test_twenty_who_ask_at_once_have_it_worked_out_once() -> None:
    worked, go = [], threading.Event()

    def work(show: Show) -> int:
        worked.append(1)
        show(1, 3)
        go.wait(PATIENCE_S)
        return 7

    for _ in range(20):
        with pytest.raises(data.NotYet):
            heavy.once(("a",), never, work)
    while data.how_far(("a",)) != (1, 3, ""):
        time.sleep(0.01)
    go.set()

    assert asked_until_there(("a",), work) == 7
    assert worked == [1]
    assert data.how_far(("a",)) is None


def test_one_is_worked_on_at_a_time_and_who_waits_is_told_for_what(tmp_path: Path) -> None:
    go = threading.Event()

    def first(show: Show) -> int:
        go.wait(PATIENCE_S)
        return 1

    for key, work in ((("a",), first), (("b",), lambda show: 2)):
        with pytest.raises(data.NotYet):
            heavy.once(key, never, work)
    assert data.how_far(("b",)) == (0, 0, "")
    (tmp_path / apart.STATUS).write_text('{"what": "Training", "done": 3, "of": 9}', encoding="utf-8")
    with FileLock(tmp_path / apart.LOCK):
        assert data.how_far(("b",)) == (0, 0, "Training")
    go.set()

    assert [asked_until_there(("b",), never), asked_until_there(("a",), never)] == [2, 1]


@pytest.mark.parametrize(("problem", "times"), [(Refusal("Too few."), 1), (BookError("No room."), 2)])
def test_a_refusal_stays_and_what_went_wrong_is_told_once_and_tried_again(problem: Exception, times: int) -> None:
    worked = []

    def work(_: Show) -> int:
        worked.append(1)
        raise problem

    for _ in range(2):
        with pytest.raises(type(problem), match=str(problem)):
            asked_until_there(("a",), work)

    assert len(worked) == times


def test_what_breaks_down_keeps_nobody_waiting() -> None:
    def work(_: Show) -> int:
        raise ZeroDivisionError

    with pytest.raises(BookError, match="The work stopped before it was done"):
        asked_until_there(("a",), work)
    assert data.how_far(("a",)) is None


def test_without_a_server_it_is_worked_out_on_the_spot_and_only_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(heavy.SERVED_VARIABLE)
    steps: list[tuple[int, int]] = []

    def work(show: Show) -> int:
        show(1, 2)
        return 5

    found = [heavy.once(("a",), work, never, lambda done, of: steps.append((done, of))) for _ in range(2)]

    assert found == [5, 5]
    assert steps == [(1, 2)]


def test_no_more_than_a_few_are_kept() -> None:
    for number in range(heavy._KEPT + 2):
        asked_until_there((number,), lambda show: 1)

    assert (0,) not in heavy._shelf().answers
    assert len(heavy._shelf().answers) == heavy._KEPT
