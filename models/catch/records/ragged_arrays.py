"""Many curves of different length in two flat arrays, one curve after the other."""

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

    def spread(self, per_curve: Floats) -> Floats:
        """One value a curve, shape (curves,), repeated for each of its points; shape (points,)."""
        return np.repeat(per_curve, self.size)

    def last_x(self) -> Floats:
        """Largest x of each curve, shape (curves,)."""
        return np.asarray(self.x[self.first + self.size - 1], dtype=float)


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
    in_order = _in_order(x, group)
    if in_order is not None:
        first, size = in_order
        return group[first], Ragged(x, y, first, size)
    labels, code = np.unique(group, return_inverse=True)
    order = np.lexsort((y, x, code))
    size = np.bincount(code, minlength=labels.size).astype(np.intp)
    first = np.concatenate(([0], np.cumsum(size)[:-1])).astype(np.intp) if size.size else size
    return labels, Ragged(x[order], y[order], first, size)


def _in_order(x: Floats, group: NDArray[np.generic]) -> tuple[Ints, Ints] | None:
    """Where each curve begins and how many points it has, if rows stand by label and by x within it, no x twice;
    None otherwise. Sorting a long table costs more than fitting its curves."""
    if group.size == 0 or group.dtype.kind not in "iufbU":
        return None
    is_first = np.empty(group.size, dtype=bool)
    is_first[0] = True
    np.not_equal(group[1:], group[:-1], out=is_first[1:])
    first = np.flatnonzero(is_first)
    labels = group[first]
    ascending = bool(np.all(labels[1:] > labels[:-1]))  # type: ignore[operator]
    if not ascending or not bool(np.all((x[1:] > x[:-1]) | is_first[1:])):
        return None
    return first, np.diff(first, append=group.size).astype(np.intp)
