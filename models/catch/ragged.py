"""Many curves of different length in two flat arrays, summed curve by curve without a Python loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Ragged:
    """Points of many curves, one curve after the other, each in the order of its x.

    `x`, `y` have shape (points,); `first` and `size` have shape (curves,): where a curve begins and how
    many points it has (at least one).
    """

    x: Floats
    y: Floats
    first: Ints
    size: Ints

    def sums(self, values: Floats) -> Floats:
        """Sum of `values`, shape (…, points), within each curve; shape (…, curves)."""
        return np.asarray(np.add.reduceat(values, self.first, axis=-1), dtype=float)

    def spread(self, per_curve: Floats) -> Floats:
        """One value a curve, shape (curves,), repeated for each of its points; shape (points,)."""
        return np.repeat(per_curve, self.size)

    def last_x(self) -> Floats:
        """Largest x of each curve, shape (curves,)."""
        return np.asarray(self.x[self.first + self.size - 1], dtype=float)

    def first_positive_x(self) -> Floats:
        """Smallest x above zero of each curve, `inf` where there is none; shape (curves,)."""
        return np.asarray(np.minimum.reduceat(np.where(self.x > 0, self.x, np.inf), self.first), dtype=float)

    def distinct_positive_x(self) -> Ints:
        """How many different x above zero each curve has, shape (curves,)."""
        is_new = self.x > 0
        same_as_before = np.zeros(self.x.size, dtype=bool)
        same_as_before[1:] = self.x[1:] == self.x[:-1]
        same_as_before[self.first] = False
        return np.add.reduceat((is_new & ~same_as_before).astype(np.intp), self.first)

    def take(self, curves: Ints) -> Ragged:
        """The curves of those numbers, in that order."""
        size = self.size[curves]
        first = np.concatenate(([0], np.cumsum(size)[:-1])).astype(np.intp)
        points = np.repeat(self.first[curves] - first, size) + np.arange(int(size.sum()))
        return Ragged(self.x[points], self.y[points], first, size)


def checked_points(x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    """Both arrays as float, shape (n,); ValueError with the facts where they cannot be a curve.

    >>> checked_points([1, 2], [3])
    Traceback (most recent call last):
    ValueError: x and y must be equally long lists of numbers; x has shape (2,), y has shape (1,).
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if xs.ndim != 1 or xs.shape != ys.shape:
        raise ValueError(
            f"x and y must be equally long lists of numbers; x has shape {xs.shape}, y has shape {ys.shape}."
        )
    for name, values in (("x", xs), ("y", ys)):
        bad = np.flatnonzero(~np.isfinite(values))
        if bad.size:
            raise ValueError(f"{name} must hold finite numbers; {name}[{bad[0]}] is {values[bad[0]]}.")
    below = np.flatnonzero(xs < 0)
    if below.size:
        raise ValueError(f"x must not be negative; x[{below[0]}] is {xs[below[0]]:g}.")
    return xs, ys


def ragged(x: Floats, y: Floats, group: NDArray[np.generic]) -> tuple[NDArray[np.generic], Ragged]:
    """Labels of the curves, sorted, and their points; `group` has shape (n,) and may be in any order."""
    labels, code = np.unique(group, return_inverse=True)
    order = np.lexsort((y, x, code))
    size = np.bincount(code, minlength=labels.size).astype(np.intp)
    first = np.concatenate(([0], np.cumsum(size)[:-1])).astype(np.intp) if size.size else size
    return labels, Ragged(x[order], y[order], first, size)
