"""Answers that take long, worked out once for all pages that ask: while a server runs, apart from it, one at a time.

START HERE: `once`. A page that asks before the answer is there gets `NotYet`, draws `how_far` it is, and asks again.
Without a server (a test, a script) the answer is worked out on the spot.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar, cast

import streamlit as st

from dashboard.data.opened import ENTRIES, book
from dashboard.services import apart
from dashboard.services.progress import Show
from models.refusals import Refusal
from pipeline.contract.findings import BookError, SludgebookError

Key = tuple[object, ...]
Answer = TypeVar("Answer")
Progress = Callable[[int, int], None]
Work = Callable[[Show], Answer]
SERVED_VARIABLE = "SLUDGEBOOK_SERVED"
"""Set by the server: several people may be waiting for one process."""
_KEPT = 4 * ENTRIES


class NotYet(Exception):
    """The answer is being worked out; `key` names it to `how_far`."""

    def __init__(self, key: Key) -> None:
        super().__init__("not yet")
        self.key = key


class _Steps:
    """How far a piece of work is: steps done, of all; none of none before it begins."""

    def __init__(self) -> None:
        self.done, self.of = 0, 0


class _Shelf:
    """What was worked out, what stopped it, and what is being worked out."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self.answers: dict[Key, object] = {}
        self.problems: dict[Key, Refusal | SludgebookError] = {}
        self.waiting: dict[Key, _Steps] = {}
        self.worker = ThreadPoolExecutor(1, "heavy")


@st.cache_resource(show_spinner=False)
def _shelf() -> _Shelf:
    return _Shelf()


def once(key: Key, work: Work[Answer], work_apart: Work[Answer], progress: Progress | None = None) -> Answer:
    """What was worked out before under `key`, else `work`; while a server runs `work_apart`, and NotYet until it is
    done. What stopped either is raised.

    Not one of the framework's own caches: those forbid a function to show how far it is.
    """
    shelf = _shelf()
    if not os.environ.get(SERVED_VARIABLE):
        with shelf.lock:
            if key not in shelf.answers:
                _keep(shelf.answers, key, work(progress or (lambda done, of: None)))
            return cast("Answer", shelf.answers[key])
    with shelf.lock:
        if key in shelf.answers:
            return cast("Answer", shelf.answers[key])
        if key in shelf.problems:
            problem = shelf.problems[key]
            if not isinstance(problem, Refusal):
                del shelf.problems[key]  # told once; whoever asks again has it tried again
            raise problem.with_traceback(None)
        if key not in shelf.waiting:
            shelf.waiting[key] = _Steps()
            shelf.worker.submit(_work, shelf, key, work_apart)
    raise NotYet(key)


def how_far(key: Key) -> tuple[int, int, str] | None:
    """Steps done, steps in all (none where it has not begun), and what else it waits for; None once it is done."""
    shelf = _shelf()
    with shelf.lock:
        steps = shelf.waiting.get(key)
    if steps is None:
        return None
    if steps.of:
        return steps.done, steps.of, ""
    other = apart.at_work(book().path)
    return 0, 0, "" if other is None else other.what


def _work(shelf: _Shelf, key: Key, work: Work[object]) -> None:
    steps = shelf.waiting[key]

    def show(done: int, of: int) -> None:
        steps.done, steps.of = done, of

    try:
        answer = work(show)
    except (Refusal, SludgebookError) as problem:
        with shelf.lock:
            _keep(shelf.problems, key, problem)
    except Exception:  # whatever it is: nobody may wait for ever
        with shelf.lock:
            _keep(shelf.problems, key, BookError(apart.STOPPED))
    else:
        with shelf.lock:
            _keep(shelf.answers, key, answer)
    finally:
        with shelf.lock:
            del shelf.waiting[key]


def _keep(kept: dict[Key, Answer], key: Key, what: Answer) -> None:
    """Keep what was found, and of the oldest no more than a few."""
    kept[key] = what
    while len(kept) > _KEPT:
        kept.pop(next(iter(kept)), None)
