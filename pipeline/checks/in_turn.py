"""Work done a few pieces at a time, its results taken in the order asked.

A file's pieces are read, judged and written side by side: what one of them does on a single processor
(cutting a piece out, counting its lines, writing its Parquet) no longer holds up the others.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")

WORKERS = 2
AHEAD = 2
"""Pieces begun before the first of them is taken: bounds the memory."""


def in_turn(tasks: Iterable[Callable[[], T]], workers: int = WORKERS) -> Iterator[T]:
    """Results of the tasks in their order. What a task raises is raised here; later ones are then not begun."""
    waiting: deque[Future[T]] = deque()
    with ThreadPoolExecutor(workers) as pool:
        try:
            for task in tasks:
                waiting.append(pool.submit(task))
                if len(waiting) > AHEAD:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()
