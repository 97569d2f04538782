"""Boosted trees as plain arrays, taken out of scikit-learn once when fitted and read without it ever after.

Importing scikit-learn takes seconds, walking the trees of one quote takes less than a millisecond. Every sum
is done in the library's own order, so that the forecasts are equal to the last bit: a test holds them so,
missing values, choices and every kind of loss included.

The fitted trees are no public interface of the library, so `Forest.of` may break with another version of it:
then fitting fails, while stored forests go on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from sklearn.ensemble import HistGradientBoostingRegressor

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.intp]

_AT_ONCE = 1 << 15
"""Rows × trees walked together: what stays within the cache of a processor."""

_CODES = 256
_NO_CHOICE = -1


@dataclass(frozen=True, slots=True, eq=False)
class Forest:
    """The nodes (m,) of all t trees in one row of arrays, tree after tree.

    `feature` is the column asked, `threshold` the highest value that goes left, `missing_left` where a missing
    value goes; `children` (m, 2) are right and left, a leaf's are itself; `parent` of a root is itself;
    `value` counts at leaves only. `choice` (m,) is the row of `choice_left` (c, 256) that says which codes
    of a choice go left, -1 for amounts. `coded` (k, 2) are column and word of each known choice, in order of
    its code. `start` is the sum before the first tree; `is_log`: the forecast is exp of the sum.
    """

    roots: Ints
    feature: Ints
    threshold: Floats
    missing_left: Flags
    children: Ints
    parent: Ints
    depth: Ints
    value: Floats
    choice: Ints
    choice_left: Flags
    coded: Floats
    start: Floats
    is_log: Flags

    @classmethod
    def of(cls, model: HistGradientBoostingRegressor) -> Forest:
        """The trees of a fitted model of one output; ValueError for a link other than identity or log."""
        link = type(model._loss.link).__name__
        if link not in ("IdentityLink", "LogLink"):
            raise ValueError(f"no forest is read from a model with {link}")
        trees = [tree for (tree,) in model._predictors]
        nodes = np.concatenate([tree.nodes for tree in trees])
        sizes = np.array([len(tree.nodes) for tree in trees])
        roots = np.cumsum(sizes) - sizes
        first = np.repeat(roots, sizes)
        is_leaf = nodes["is_leaf"].astype(bool)
        here = np.arange(len(nodes))
        right, left = (np.where(is_leaf, here, first + nodes[side]) for side in ("right", "left"))
        parent = here.copy()
        for child in (right, left):
            parent[child[~is_leaf]] = here[~is_leaf]
        choice, choice_left = _choices(trees, nodes, is_leaf)
        columns, coded = _coding(model)
        return cls(
            roots=roots.astype(np.intp),
            feature=np.where(is_leaf, 0, columns[nodes["feature_idx"]]),
            threshold=np.where(is_leaf, np.nan, nodes["num_threshold"]),
            missing_left=nodes["missing_go_to_left"].astype(bool) & ~is_leaf,
            children=np.stack([right, left], axis=1).astype(np.intp),
            parent=parent.astype(np.intp),
            depth=nodes["depth"].astype(np.intp),
            value=np.where(is_leaf, nodes["value"], 0.0),
            choice=choice,
            choice_left=choice_left,
            coded=coded,
            start=np.ravel(model._baseline_prediction).astype(float),
            is_log=np.array([link == "LogLink"]),
        )

    def predict(self, x: Floats) -> Floats:
        """Forecast (n,) of the rows (n, p), equal to the library's `predict`."""
        return self._linked(np.concatenate([np.zeros(0), *(sums[-1] for sums in self._sums(x))]))

    def staged(self, x: Floats) -> Floats:
        """Forecast (t + 1, n) after each number of trees, from none to all."""
        none = np.zeros((len(self.roots) + 1, 0))
        return self._linked(np.concatenate([none, *self._sums(x)], axis=1))

    def goes_left(self, nodes: Ints, value: Floats) -> Flags:
        """Whether the values (coded choices, NaN missing) go left at those nodes; shapes must broadcast."""
        missing = np.isnan(value)
        left = value <= self.threshold[nodes]
        if len(self.choice_left):
            choice = self.choice[nodes]
            code = np.clip(np.where(missing, 0.0, value), 0, _CODES - 1).astype(np.intp)
            left = np.where(choice == _NO_CHOICE, left, self.choice_left[choice, code])
        return np.where(missing, self.missing_left[nodes], left)

    def code(self, x: Floats) -> Floats:
        """The rows (n, p) with the words of choices as codes; unknown words are missing."""
        if not len(self.coded):
            return x
        coded = x.copy()
        for column in np.unique(self.coded[:, 0]).astype(int):
            words = self.coded[self.coded[:, 0] == column, 1]
            at = np.clip(np.searchsorted(words, x[:, column]), 0, len(words) - 1)
            coded[:, column] = np.where(words[at] == x[:, column], at.astype(float), np.nan)
        return coded

    def arrays(self) -> dict[str, NDArray[Any]]:
        """Its parts by name, for the store."""
        return {name: getattr(self, name) for name in self.__slots__}

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Forest:
        """The forest from its parts; KeyError when one is missing."""
        return cls(**{name: arrays[name] for name in cls.__slots__})

    def _linked(self, sums: Floats) -> Floats:
        return np.exp(sums) if self.is_log[0] else sums

    def _sums(self, x: Floats) -> Iterator[Floats]:
        """Running sums (t + 1, rows) over the trees, one block of rows after the other."""
        x = self.code(np.ascontiguousarray(x, dtype=float))
        rows = max(1, _AT_ONCE // max(1, len(self.roots)))
        for first in range(0, len(x), rows):
            block = x[first : first + rows]
            values = self.value[self._reached(block)]
            start = np.broadcast_to(self.start, (1, len(block)))
            # tree after tree, as the library adds them: another order would round differently
            yield np.add.accumulate(np.concatenate([start, values]), axis=0)

    def _reached(self, x: Floats) -> Ints:
        """The leaf (t, n) that each row reaches in each tree."""
        flat, offset = x.ravel(), np.arange(len(x)) * x.shape[1]
        at = np.broadcast_to(self.roots[:, None], (len(self.roots), len(x)))
        for _ in range(int(self.depth.max(initial=0))):
            at = self.children[at, self.goes_left(at, flat[offset + self.feature[at]]).astype(np.intp)]
        return at


@dataclass(frozen=True, slots=True, eq=False)
class Trees:
    """Boosted trees and the columns of the feature matrix they read (those that varied when fitted)."""

    forest: Forest
    columns: NDArray[np.intp]

    def predict(self, x: Floats) -> Floats:
        """Forecast (n,) of the rows of the whole feature matrix (n, p)."""
        return self.forest.predict(x[:, self.columns])


def _choices(trees: list[Any], nodes: NDArray[Any], is_leaf: Flags) -> tuple[Ints, Flags]:
    """Row of the table of each node, and the table (c, 256) of codes that go left."""
    counts = np.array([len(tree.raw_left_cat_bitsets) for tree in trees])
    first = np.repeat(np.cumsum(counts) - counts, [len(tree.nodes) for tree in trees])
    words = np.concatenate([tree.raw_left_cat_bitsets.reshape(-1, _CODES // 32) for tree in trees])
    left = (words[:, :, None] >> np.arange(32, dtype=np.uint32)) & np.uint32(1)
    is_choice = nodes["is_categorical"].astype(bool) & ~is_leaf
    row = np.where(is_choice, first + nodes["bitset_idx"], _NO_CHOICE)
    return row.astype(np.intp), left.reshape(len(words), _CODES).astype(bool)


def _coding(model: HistGradientBoostingRegressor) -> tuple[Ints, Floats]:
    """Column (p,) that each feature of the trees stands for, and column and word (k, 2) of the choices."""
    is_choice = model.is_categorical_
    if is_choice is None:
        return np.arange(model.n_features_in_), np.zeros((0, 2))
    columns = np.concatenate([np.flatnonzero(is_choice), np.flatnonzero(~is_choice)])
    words = model._preprocessor.named_transformers_["encoder"].categories_
    coded = [
        np.column_stack([np.full(len(known), float(column)), known])
        for column, values in zip(np.flatnonzero(is_choice), words, strict=True)
        if len(known := np.asarray(values, dtype=float)[~np.isnan(np.asarray(values, dtype=float))])
    ]
    return columns, np.concatenate([np.zeros((0, 2)), *coded])
