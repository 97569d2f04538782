"""Splits by time: what is tested comes later than what was learnt from, and days are never parted.

The job log holds no customers (it must not), so the unit that is never split is the job: a job has one
row, and a job that stands twice is refused. Two visits to one customer are two jobs here; whoever can
tie them together may pass that tie as `keys` with one date each.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Fold:
    """One rolling origin: learn from the rows `before`, in order of time, then test on rows later still."""

    before: Index
    test: Index


def interleaved(days: Sequence[object] | NDArray[np.generic], *, folds: int = 5) -> Index:
    """Fold 0..folds − 1 of each row (n,) by its day: each run of so many days on record is dealt out to all folds.

    Rows of one day stand in one fold, and every fold spans the whole time. The deal is random (always the same one), so
    that no fold is a day of the week. Of fewer days than folds each is a fold.
    """
    values, at = np.unique(np.asarray(days), return_inverse=True)
    runs = -(-len(values) // folds)
    dealt = np.random.default_rng(folds).permuted(np.tile(np.arange(folds), (runs, 1)), axis=1).ravel()
    if len(values) < folds:
        dealt = np.arange(folds)
    return np.asarray(dealt[: len(values)][at], dtype=np.intp)


def rolling_folds(
    dates: Sequence[object] | NDArray[np.generic],
    *,
    folds: int = 3,
    first_share: float = 0.5,
    keys: Sequence[object] | None = None,
) -> list[Fold]:
    """Rolling origins: the first `first_share` of the rows is history, the rest is tested in `folds` steps.

    Rows of one day are never parted. Steps that whole days leave empty are left out.
    """
    order, ordered = _ordered(dates, keys)
    n = len(order)
    marks = [_whole_days(ordered, round(n * first_share))]
    for step in range(1, folds + 1):
        at = round(n * (first_share + (1 - first_share) * step / folds))
        marks.append(n if step == folds else _whole_days(ordered, at))
    made = []
    for start, end in itertools.pairwise(marks):
        if start == 0 or end <= start:
            continue
        made.append(Fold(order[:start], order[start:end]))
    return made


def _ordered(
    dates: Sequence[object] | NDArray[np.generic], keys: Sequence[object] | None
) -> tuple[Index, NDArray[np.generic]]:
    """Positions in order of time (ties in order of the rows), and the dates so ordered."""
    values = np.asarray(dates)
    if keys is not None and len(set(keys)) != len(values):
        raise ValueError("a job stands twice: one row a job is needed to split by time")
    order = np.argsort(values, kind="stable")
    return order, values[order]


def _whole_days(ordered: NDArray[np.generic], cut: int) -> int:
    """The cut nearest to `cut`, not splitting rows of one date and leaving rows on both sides."""
    changes = np.flatnonzero(ordered[1:] != ordered[:-1]) + 1
    if len(changes) == 0:
        raise ValueError("all rows are of one day: nothing can be split by time")
    return int(changes[np.argmin(np.abs(changes - cut))])
