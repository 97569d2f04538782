"""How many threads a fit or a prediction may use.

Small work is done on one thread: on a machine that is busy otherwise, threads that wait for each other in
every round of boosting cost up to ten times what they save.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

SMALL_ROWS = 20_000
"""Rows below which one thread is used."""


@contextmanager
def threads_for(rows: int) -> Iterator[None]:
    """Within it, OpenMP and linear algebra use one thread if the rows are few, else what the machine has."""
    if rows >= SMALL_ROWS:
        yield
        return
    with _controller().limit(limits=1):
        yield


_LOADED_LATE = ("scipy.linalg", "sklearn.ensemble")
"""What fits loads only once it is needed, each with a pool of threads of its own."""


def _controller() -> Any:
    """The libraries loaded by now: looked up again when a fit has loaded more, as the look-up takes milliseconds."""
    return _looked_up(tuple(name in sys.modules for name in _LOADED_LATE))


@lru_cache(maxsize=1 << len(_LOADED_LATE))
def _looked_up(_loaded: tuple[bool, ...]) -> Any:
    from threadpoolctl import ThreadpoolController  # type: ignore[import-untyped]

    return ThreadpoolController()
