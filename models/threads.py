"""How many threads a fit or a prediction may use.

Small work is done on one thread: on a machine that is busy otherwise, threads that wait for each other in
every round of boosting cost up to ten times what they save.
"""

from __future__ import annotations

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


@lru_cache(maxsize=1)
def _controller() -> Any:
    """Looked up once, when the libraries that fit and predict are loaded: the look-up takes milliseconds."""
    import sklearn.ensemble  # noqa: F401
    from threadpoolctl import ThreadpoolController  # type: ignore[import-untyped]

    return ThreadpoolController()
