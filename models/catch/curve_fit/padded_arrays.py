"""Curves of about one length side by side: arrays of shape (points, curves), which numpy sums quickest.

A curve with fewer points than its block is filled up with points at (0, 0). They lie on every curve
`M · (1 − exp(−x / tau))`, so they add nothing to any sum and change no estimate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from models.catch.records.ragged_arrays import Floats, Ints, Ragged

CELLS_AT_ONCE = 52_000  # points of a block, so that its working arrays stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Points of some curves, shape (points, curves): x ascending, then zeros for curves with fewer; `size`, shape
    (curves,), is how many points each has."""

    x: Floats
    y: Floats
    size: Ints

    def last_x(self) -> Floats:
        """Largest x of each curve, shape (curves,)."""
        return np.asarray(self.x.max(axis=0), dtype=float)

    def first_positive_x(self) -> Floats:
        """Smallest x above zero of each curve, `inf` where there is none; shape (curves,)."""
        return np.asarray(np.where(self.x > 0, self.x, np.inf).min(axis=0), dtype=float)

    def distinct_positive_x(self) -> Ints:
        """How many different x above zero each curve has, shape (curves,)."""
        return np.asarray((self.x[1:] > self.x[:-1]).sum(axis=0) + (self.x[0] > 0), dtype=np.intp)

    def take(self, curves: Ints) -> Block:
        """The curves of those places, in that order."""
        return Block(self.x[:, curves], self.y[:, curves], self.size[curves])


def blocks(curves: Ragged) -> Iterator[tuple[Ints, Block]]:
    """Every curve once, in blocks of about equal length: places in `curves`, and the points of those."""
    order = np.argsort(curves.size, kind="stable")
    size = curves.size[order]
    begin = 0
    while begin < order.size:
        count = max(1, CELLS_AT_ONCE // int(size[begin]))
        # the longest of a block sets its height: shrink it until height · width fits
        while count > 1 and int(size[min(begin + count, order.size) - 1]) * count > 2 * CELLS_AT_ONCE:
            count //= 2
        places = order[begin : begin + count]
        yield places, _side_by_side(curves, places)
        begin += count


def _side_by_side(curves: Ragged, places: Ints) -> Block:
    size, first = curves.size[places], curves.first[places]
    step = np.arange(int(size.max()), dtype=np.intp)[:, None]
    at = np.minimum(first + step, curves.x.size - 1)
    x, y = curves.x[at], curves.y[at]
    if int(size.min()) < step.size:
        inside = step < size
        x, y = np.where(inside, x, 0.0), np.where(inside, y, 0.0)
    return Block(x, y, size)
