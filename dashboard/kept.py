"""What many people look at is worked out once: figures, sentences and tables kept for the very results they show.

A key names what is kept and all that it depends on: plain values by what they say, results by which object they are
(`Same`), because two results are slow to compare and none is changed after it was made.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from datetime import date
from typing import Any, TypeVar, cast

from dashboard.theme import Look

T = TypeVar("T")
_PLAIN = (str, int, float, date, type(None), Look)
MOST = 400
"""Figures, sentences and tables kept; each is some kilobytes."""


class Same:
    """An object by its identity; held for as long as the key is, so that no other object takes its place."""

    __slots__ = ("of",)

    def __init__(self, of: object) -> None:
        self.of = of

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.of is other.of

    def __hash__(self) -> int:
        return id(self.of)


_kept: OrderedDict[Hashable, object] = OrderedDict()
_making: dict[Hashable, threading.Lock] = {}
_lock = threading.Lock()


def kept(key: tuple[Hashable, ...], make: Callable[[], T]) -> T:
    """What `make` gave for this key before, else what it gives now; one makes it, others who ask wait for that. The
    least used is forgotten."""
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return cast("T", _kept[key])
        turn = _making.setdefault(key, threading.Lock())
    with turn:
        with _lock:
            if key in _kept:
                return cast("T", _kept[key])
        try:
            found = still(make())
        finally:
            with _lock:
                _making.pop(key, None)
        with _lock:
            _kept[key] = found
            while len(_kept) > MOST:
                _kept.popitem(last=False)
    return found


def made(make: Callable[..., T], *of: Any) -> T:
    """What `make` gives for these arguments, kept: for a function that looks at nothing else and changes nothing."""
    return kept((make, *(each if isinstance(each, _PLAIN) else Same(each) for each in of)), lambda: make(*of))


def still(what: T) -> T:
    """A figure with its plain form at hand, which the library asks for each time that it is shown."""
    if hasattr(what, "to_plotly_json"):
        figure: Any = what
        plain = figure.to_dict()
        figure.to_dict = lambda: plain
    return what


def forget() -> None:
    """Forget all of it: for tests."""
    with _lock:
        _kept.clear()
